SELECT digest, 'accepted' AS disposition, received_at
FROM submission
WHERE organization_id = $1 AND digest = ANY($2) AND disposition = 'accepted'
UNION ALL
SELECT
    custody.digest,
    CASE outcome WHEN 'discarded' THEN 'discarded' WHEN 'released' THEN 'accepted' ELSE held_as END,
    custody.received_at
FROM custody
LEFT JOIN custody_settlement AS settlement
    ON settlement.organization_id = $1 AND settlement.custody_id = custody.id
WHERE
    custody.organization_id = $1
    AND custody.digest = ANY($2)
    AND NOT EXISTS (
        SELECT FROM submission
        WHERE
            submission.organization_id = $1
            AND submission.digest = custody.digest
            AND disposition = 'accepted'
    )
