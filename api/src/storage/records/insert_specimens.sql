INSERT INTO specimen (
    organization_id, trial_id, coupon_ordinal, ordinal, reading, reasons, bonded_width_mm, peak_force_n, plateau_force_n
)
SELECT $1, $2, coupon, n, reading, string_to_array(reasons, ' '), width_mm, peak_n, plateau_n
FROM unnest($3::int2[], $4::int2[], $5::text[], $6::text[], $7::float8[], $8::float8[], $9::float8[])
    AS specimens (coupon, n, reading, reasons, width_mm, peak_n, plateau_n)
