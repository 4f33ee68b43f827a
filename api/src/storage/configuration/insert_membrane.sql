INSERT INTO membrane (
    organization_id, id, effective_from, recorded_at, retired, name, material_class, thickness_mm,
    reinforced, maker_ceiling_c
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
