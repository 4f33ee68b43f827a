INSERT INTO crew (
    organization_id, id, effective_from, recorded_at, retired, name, site_id, temperature_unit,
    speed_unit
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
