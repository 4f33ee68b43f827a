SELECT
    second_reading.id, trial_id, first_read_by, read_by, read_at, strips_per_coupon, readings, remarks,
    second_reading.supersedes, second_reading.recorded_at
FROM second_reading
JOIN trial ON trial.organization_id = $1 AND trial.id = trial_id
WHERE
    second_reading.organization_id = $1
    -- Neither withdrawn itself nor read of a trial that no longer counts.
    AND NOT EXISTS (
        SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = second_reading.id
    )
    AND NOT EXISTS (
        SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = trial.id
    )
    AND ($2::uuid IS NULL OR trial_id = $2)
    AND ($3::uuid IS NULL OR crew_id = $3)
    AND ($4::timestamptz IS NULL OR read_at >= $4)
    AND ($5::timestamptz IS NULL OR read_at < $5)
ORDER BY read_at, second_reading.id
