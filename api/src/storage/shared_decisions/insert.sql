INSERT INTO shared_decision (
    organization_id, id, kind, shift_kind, subject_id, on_date, material_class, decided_at, remark, actor_kind, actor_id
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
