INSERT INTO shared_shift (
    organization_id, fit_id, ordinal, material_class, kind, subject_id, on_date, starts_at, ends_at, units, trials,
    latest_at, informing, lower_k, upper_k
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)
