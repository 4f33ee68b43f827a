SELECT
    unit_id, material_class, edge, trials, effective_trials, level_c, level_sd_k, chart_up, chart_down, chart_limit,
    learning, signal_trial_id
FROM history
WHERE organization_id = $1 AND unit_id = $2
ORDER BY material_class, edge
