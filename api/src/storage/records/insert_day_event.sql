INSERT INTO day_event (
    organization_id, id, crew_id, unit_id, happened_at, kind, sheet_temperature_c, wind_m_per_s, membrane_id, lot_id,
    operator, remarks, supersedes, recorded_at
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)
