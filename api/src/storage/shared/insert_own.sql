INSERT INTO shared_shift_own (
    organization_id, fit_id, ordinal, unit_id, lower_k, lower_sd_k, upper_k, upper_sd_k
)
SELECT $1, $2, $3, own.unit_id, own.lower_k, own.lower_sd_k, own.upper_k, own.upper_sd_k
FROM unnest($4::uuid[], $5::float8[], $6::float8[], $7::float8[], $8::float8[])
    AS own (unit_id, lower_k, lower_sd_k, upper_k, upper_sd_k)
