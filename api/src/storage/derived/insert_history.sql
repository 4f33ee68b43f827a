INSERT INTO history (
    organization_id, unit_id, material_class, edge, trials, effective_trials, level_c, level_sd_k, chart_up,
    chart_down, chart_limit, learning, signal_trial_id
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)
