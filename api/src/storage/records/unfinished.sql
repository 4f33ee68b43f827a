SELECT
    id, unit_id, crew_id, performed_at, state, closed_as,
    (
        SELECT count(*) FROM open_trial_coupon AS coupon
        WHERE
            coupon.organization_id = $1 AND coupon.open_trial_id = unfinished.id
            AND NOT EXISTS (
                SELECT FROM retracted WHERE retracted.organization_id = $1 AND retracted.record_id = coupon.id
            )
    ) AS coupons
FROM unfinished
WHERE
    organization_id = $1 AND state = 'open'
    AND ($2::uuid IS NULL OR unit_id = $2) AND ($3::uuid IS NULL OR crew_id = $3)
    AND ($4::timestamptz IS NULL OR (performed_at, id) < ($4, $5::uuid))
ORDER BY performed_at DESC, id DESC
LIMIT $6
