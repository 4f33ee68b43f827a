INSERT INTO shared_fit (
    organization_id, id, made_at, trials, units, first_trial_at, last_trial_at, noise_basis, noise_differences, noise_k,
    informed, ordinary_k
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)
