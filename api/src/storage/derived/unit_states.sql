SELECT
    unit_id, standing, standing_since, reasons, last_trial_id, last_trial_at, last_outcome, set_point_c,
    margin_below_k, margin_above_k, derived_at
FROM unit_state
WHERE organization_id = $1
ORDER BY unit_id
