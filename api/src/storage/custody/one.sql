SELECT
    custody.id, custody.digest, length(custody.bytes) AS size, held_as, custody.reason, findings, schema,
    custody.record_id, received_at, custody.actor_kind, custody.actor_id, crew_id, outcome,
    settlement.reason AS settled_because, patch, settlement.record_id AS released_as, settled_at,
    settlement.actor_kind AS settled_by_kind, settlement.actor_id AS settled_by_id,
    EXISTS (
        SELECT FROM submission
        WHERE
            submission.organization_id = $1
            AND submission.digest = custody.digest
            AND disposition = 'accepted'
    ) AS accepted
FROM custody
LEFT JOIN custody_settlement AS settlement
    ON settlement.organization_id = $1 AND settlement.custody_id = custody.id
WHERE custody.organization_id = $1 AND custody.id = $2
