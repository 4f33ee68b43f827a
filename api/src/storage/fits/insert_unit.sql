INSERT INTO fleet_fit_unit (
    organization_id, fit_id, material_class, unit_id, trials, identified, narrowing, heat_share
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
