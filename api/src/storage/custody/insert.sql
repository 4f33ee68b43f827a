WITH held AS (
    INSERT INTO custody (
        organization_id, id, digest, bytes, held_as, reason, findings, schema, record_id, received_at, actor_kind, actor_id,
        crew_id
    )
    VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)
    ON CONFLICT (organization_id, digest) DO NOTHING
    RETURNING id, reason, received_at
)
INSERT INTO custody_open (organization_id, custody_id, reason, received_at)
SELECT $1, id, reason, received_at FROM held
