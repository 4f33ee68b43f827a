INSERT INTO production_span (
    organization_id, id, unit_id, crew_id, started_at, ended_at, place, membrane_id, lot_id, set_temperature_c,
    speed_m_per_min, length_m, supersedes, recorded_at
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
