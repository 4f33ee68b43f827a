INSERT INTO policy (
    organization_id, effective_from, recorded_at, working_days, shift_start, trial_due_after_min,
    in_use_days, edge_finding_interval_days, promise_arl_trials
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
