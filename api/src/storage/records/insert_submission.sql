INSERT INTO submission (
    organization_id, record_id, digest, kind, bytes, received_at, actor_kind, actor_id, disposition
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, 'accepted')
ON CONFLICT DO NOTHING
