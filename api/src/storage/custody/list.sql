SELECT
    custody.id, custody.digest, length(custody.bytes) AS size, held_as, custody.reason, findings, schema,
    custody.record_id, received_at, custody.actor_kind, custody.actor_id, crew_id, outcome,
    settlement.reason AS settled_because, patch, settlement.record_id AS released_as, settled_at,
    settlement.actor_kind AS settled_by_kind, settlement.actor_id AS settled_by_id, accepted
FROM custody
LEFT JOIN custody_settlement AS settlement
    ON settlement.organization_id = $1 AND settlement.custody_id = custody.id
CROSS JOIN LATERAL (
    SELECT EXISTS (
        SELECT FROM submission
        WHERE
            submission.organization_id = $1
            AND submission.digest = custody.digest
            AND disposition = 'accepted'
    ) AS accepted
) AS submitted
WHERE
    custody.organization_id = $1
    AND (
        $2::text IS NULL
        OR $2 = CASE
            WHEN outcome = 'discarded' THEN 'discarded'
            WHEN outcome = 'released' OR accepted THEN 'accepted'
            ELSE 'open'
        END
    )
    AND ($3::uuid IS NULL OR crew_id = $3 OR custody.actor_id = $4)
    AND ($5::timestamptz IS NULL OR (received_at, custody.id) < ($5, $6))
ORDER BY received_at DESC, custody.id DESC
LIMIT $7
