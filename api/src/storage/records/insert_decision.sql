INSERT INTO decision (
    organization_id, id, kind, unit_id, series, concern, decided_at, seen_id, remark, actor_kind, actor_id
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
