INSERT INTO fleet_fit (
    organization_id, id, made_at, effective_from, trials, units, first_trial_at, last_trial_at, search_units,
    search_trials, search_edges, search_coupons, mixed_coupons, correlation_basis, correlation, scatter_basis,
    scatter_k, scatter_ln_spread, scatter_ln_further, fade_basis, fade_units, fade_count, fade_k_per_day,
    fade_ln_rate
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19,
        $20, $21, $22, $23, $24)
