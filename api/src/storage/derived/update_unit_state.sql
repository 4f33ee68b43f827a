UPDATE unit_state
SET standing = $3, standing_since = $4, reasons = $5, last_trial_id = $6, last_trial_at = $7, last_outcome = $8,
    set_point_c = $9, margin_below_k = $10, margin_above_k = $11, derived_at = $12
WHERE organization_id = $1 AND unit_id = $2
