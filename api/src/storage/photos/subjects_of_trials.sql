SELECT unnest($2::uuid[]) AS id
UNION
SELECT open_trial_id FROM trial_close WHERE organization_id = $1 AND trial_id = ANY($2)
UNION
SELECT coupon.id
FROM trial_close
JOIN open_trial_coupon AS coupon
    ON coupon.organization_id = trial_close.organization_id AND coupon.open_trial_id = trial_close.open_trial_id
WHERE trial_close.organization_id = $1 AND trial_close.trial_id = ANY($2)
