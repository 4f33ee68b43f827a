INSERT INTO retraction (
    organization_id, id, record_id, record_kind, retracted_at, reason, actor_kind, actor_id
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
