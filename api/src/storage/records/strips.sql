SELECT coupon.trial_id, crew_id, performed_at, coupon.ordinal,
    coalesce(array_agg(reading ORDER BY specimen.ordinal) FILTER (WHERE reading IS NOT NULL), '{}') AS readings
FROM coupon
JOIN trial ON trial.organization_id = $1 AND trial.id = coupon.trial_id
LEFT JOIN specimen
    ON specimen.organization_id = $1 AND specimen.trial_id = coupon.trial_id AND coupon_ordinal = coupon.ordinal
WHERE coupon.organization_id = $1 AND coupon.trial_id = ANY($2)
GROUP BY coupon.trial_id, crew_id, performed_at, coupon.ordinal
ORDER BY coupon.trial_id, coupon.ordinal
