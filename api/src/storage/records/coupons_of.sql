SELECT submission.bytes
FROM open_trial_coupon AS coupon
JOIN submission
    ON submission.organization_id = $1 AND submission.record_id = coupon.id
    AND submission.disposition = 'accepted'
WHERE
    coupon.organization_id = $1 AND coupon.open_trial_id = $2
    AND NOT EXISTS (
        SELECT FROM retracted WHERE retracted.organization_id = $1 AND retracted.record_id = coupon.id
    )
ORDER BY coupon.recorded_at, coupon.id
