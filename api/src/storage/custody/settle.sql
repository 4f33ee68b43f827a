INSERT INTO custody_settlement (
    organization_id, custody_id, outcome, reason, patch, record_id, settled_at, actor_kind, actor_id
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
ON CONFLICT (organization_id, custody_id) DO NOTHING
