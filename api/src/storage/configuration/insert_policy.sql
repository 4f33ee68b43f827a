INSERT INTO policy (
    organization_id, effective_from, recorded_at, working_days, shift_start, trial_due_after_min,
    in_use_days, edge_finding_interval_days, promise_arl_trials, least_edge_finding_interval_days,
    most_edge_finding_interval_days, limit_lead_days, carry_share_percent, wind_from_m_per_s, operator_checks,
    closed_days
)
VALUES (
    $1, $2,
    -- Two versions within one microsecond: the later one counts.
    greatest($3, (SELECT max(recorded_at) + interval '1 microsecond' FROM policy
                  WHERE organization_id = $1 AND effective_from = $2)),
    $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16
)
ON CONFLICT DO NOTHING
