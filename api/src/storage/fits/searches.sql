SELECT trial.id AS trial_id, trial.purpose, coupon.set_temperature_c, coupon.cold, coupon.sound, coupon.hot
FROM trial
JOIN coupon ON coupon.organization_id = $1 AND coupon.trial_id = trial.id
WHERE
    trial.organization_id = $1 AND trial.unit_id = $2 AND NOT trial.ahead_of_clock
    AND trial.ordered_at >= $3 AND trial.ordered_at <= $4
    AND trial.purpose IN ('commissioning', 'sweep')
  AND NOT EXISTS (
      SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = trial.id
  )
ORDER BY trial.ordered_at, trial.id, coupon.ordinal
