SELECT custody.id, bytes, received_at, actor_kind, actor_id, crew_id
FROM custody
WHERE
    organization_id = $1
    AND held_as = 'quarantined'
    AND reason = ANY($2)
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
ORDER BY received_at, id
LIMIT $3
