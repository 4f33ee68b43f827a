INSERT INTO trial (
    organization_id, id, unit_id, crew_id, site_id, material_class, purpose, performed_at, ordered_at,
    ahead_of_clock, upper_membrane_id, upper_lot_id, lower_membrane_id, lower_lot_id, speed_set_m_per_min,
    speed_timed_m_per_min, sheet_temperature_c, air_temperature_c, humidity_percent, wind_m_per_s,
    voltage_idle_v, voltage_loaded_v, outcome, grade, edge_finding, band_low_c, band_high_c, set_point_c
)
VALUES (
    $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24,
    $25, $26, $27, $28
)
