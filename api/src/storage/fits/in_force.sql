SELECT
    id, made_at, search_units, search_trials, search_edges, search_coupons, mixed_coupons, correlation_basis,
    correlation, scatter_basis, scatter_k, scatter_ln_spread, scatter_ln_further, fade_ln_rate
FROM fleet_fit
WHERE organization_id = $1 AND effective_from <= $2
ORDER BY effective_from DESC, id DESC
LIMIT 1
