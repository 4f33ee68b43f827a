INSERT INTO unit (
    organization_id, id, effective_from, recorded_at, retired, serial, label, crew_id, weld_method,
    rated_voltage_v, rated_power_w, maximum_set_temperature_c, display_step_k, nozzle_width_mm,
    heated_length_mm
)
VALUES (
    $1, $2, $3,
    -- Two versions within one microsecond: the later one counts.
    greatest($4, (SELECT max(recorded_at) + interval '1 microsecond' FROM unit
                  WHERE organization_id = $1 AND id = $2 AND effective_from = $3)),
    $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15
)
ON CONFLICT DO NOTHING
