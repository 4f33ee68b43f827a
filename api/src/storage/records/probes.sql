SELECT coupon.trial_id, coupon.set_temperature_c, coupon.measured_temperature_c
FROM trial
JOIN coupon ON coupon.organization_id = $1 AND coupon.trial_id = trial.id
WHERE trial.organization_id = $1
  AND trial.unit_id = $2
  AND NOT trial.ahead_of_clock
  AND coupon.measured_temperature_c IS NOT NULL
ORDER BY coupon.trial_id, coupon.ordinal
