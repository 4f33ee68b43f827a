SELECT coupon.id, coupon.open_trial_id, submission.bytes
FROM open_trial_coupon AS coupon
JOIN submission
    ON submission.organization_id = $1 AND submission.record_id = coupon.id
    AND submission.disposition = 'accepted'
WHERE coupon.organization_id = $1 AND coupon.id = ANY($2)
