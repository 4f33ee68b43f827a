-- What became of an open trial is looked up once for all of them, not one by one as `begun_trial` does.
SELECT
    id, unit_id, crew_id, performed_at, 'open' AS state, NULL::uuid AS closed_as,
    (
        SELECT count(*) FROM open_trial_coupon AS coupon
        WHERE
            coupon.organization_id = $1 AND coupon.open_trial_id = open_trial.id
            AND NOT EXISTS (
                SELECT FROM retracted WHERE retracted.organization_id = $1 AND retracted.record_id = coupon.id
            )
    ) AS coupons
FROM open_trial
WHERE
    organization_id = $1
    AND id NOT IN (
        SELECT trial_close.open_trial_id FROM trial_close
        WHERE
            trial_close.organization_id = $1
            AND NOT EXISTS (
                SELECT FROM uncounted
                WHERE
                    uncounted.organization_id = $1 AND uncounted.record_id = trial_close.trial_id
                    AND uncounted.disposition = 'retracted'
            )
    )
    AND NOT EXISTS (
        SELECT FROM retracted WHERE retracted.organization_id = $1 AND retracted.record_id = open_trial.id
    )
    AND ($2::uuid IS NULL OR unit_id = $2) AND ($3::uuid IS NULL OR crew_id = $3)
    AND ($4::timestamptz IS NULL OR (performed_at, id) < ($4, $5::uuid))
ORDER BY performed_at DESC, id DESC
LIMIT $6
