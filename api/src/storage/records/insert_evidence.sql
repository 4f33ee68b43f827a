INSERT INTO evidence (
    organization_id, trial_id, unit_id, edge, class, mean_c, sd_k, low_c, median_c, high_c, profile
)
SELECT $1, $2, $3, edge, class, mean_c, sd_k, low_c, median_c, high_c, profile
FROM unnest($4::text[], $5::text[], $6::float8[], $7::float8[], $8::float8[], $9::float8[], $10::float8[], $11::bytea[])
    AS edges (edge, class, mean_c, sd_k, low_c, median_c, high_c, profile)
