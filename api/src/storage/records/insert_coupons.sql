INSERT INTO coupon (
    organization_id, trial_id, ordinal, set_temperature_c, measured_temperature_c, cold, sound, hot, other
)
SELECT $1, $2, n - 1, set_c, measured_c, cold, sound, hot, other
FROM unnest($3::float8[], $4::float8[], $5::int2[], $6::int2[], $7::int2[], $8::int2[])
    WITH ORDINALITY AS coupons (set_c, measured_c, cold, sound, hot, other, n)
