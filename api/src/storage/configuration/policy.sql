SELECT
    effective_from, working_days, shift_start, trial_due_after_min, in_use_days,
    edge_finding_interval_days, promise_arl_trials,
    least_edge_finding_interval_days, most_edge_finding_interval_days, limit_lead_days, carry_share_percent,
    wind_from_m_per_s, operator_checks, closed_days
FROM policy
WHERE organization_id = $1 AND effective_from <= $2
ORDER BY effective_from DESC, recorded_at DESC
LIMIT 1
