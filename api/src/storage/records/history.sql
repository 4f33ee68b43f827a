SELECT
    trial.id, trial.ordered_at, trial.material_class, trial.purpose, trial.outcome, trial.sheet_temperature_c,
    coalesce(trial.speed_timed_m_per_min, trial.speed_set_m_per_min) AS speed_m_per_min,
    trial.band_low_c, trial.band_high_c, trial.set_point_c,
    lower_edge.class AS lower_class, lower_edge.profile AS lower_profile,
    upper_edge.class AS upper_class, upper_edge.profile AS upper_profile
FROM trial
JOIN evidence AS lower_edge ON lower_edge.organization_id = $1 AND lower_edge.trial_id = trial.id
    AND lower_edge.edge = 'lower'
JOIN evidence AS upper_edge ON upper_edge.organization_id = $1 AND upper_edge.trial_id = trial.id
    AND upper_edge.edge = 'upper'
WHERE trial.organization_id = $1 AND trial.unit_id = $2 AND NOT trial.ahead_of_clock
ORDER BY trial.ordered_at, trial.id
