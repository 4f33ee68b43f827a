SELECT
    shift.*, own.lower_k AS own_lower_k, own.lower_sd_k AS own_lower_sd_k, own.upper_k AS own_upper_k,
    own.upper_sd_k AS own_upper_sd_k
FROM shared_shift AS shift
LEFT JOIN shared_shift_own AS own
    ON own.organization_id = $1 AND own.fit_id = $2 AND own.unit_id = $3 AND own.ordinal = shift.ordinal
WHERE shift.organization_id = $1 AND shift.fit_id = $2 AND shift.subject_id = ANY ($4)
ORDER BY shift.ordinal
