SELECT count(*) AS waiting
FROM custody
WHERE
    organization_id = $1
    AND ($2::uuid IS NULL OR crew_id = $2 OR actor_id = $3)
    AND NOT EXISTS (
        SELECT FROM custody_settlement AS settlement
        WHERE settlement.organization_id = $1 AND settlement.custody_id = custody.id
    )
    AND NOT EXISTS (
        SELECT FROM submission
        WHERE
            submission.organization_id = $1
            AND submission.digest = custody.digest
            AND disposition = 'accepted'
    )
