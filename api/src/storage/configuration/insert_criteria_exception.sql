INSERT INTO criteria_exception (
    organization_id, id, effective_from, recorded_at, retired, name, site_id, membrane_id, weld_method,
    bond_width_mm, minimum_strips, share_limit, cold_weight, hot_weight, ceiling_c
)
VALUES (
    $1, $2, $3,
    -- Two versions within one microsecond: the later one counts.
    greatest($4, (SELECT max(recorded_at) + interval '1 microsecond' FROM criteria_exception
                  WHERE organization_id = $1 AND id = $2 AND effective_from = $3)),
    $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15
)
ON CONFLICT DO NOTHING
