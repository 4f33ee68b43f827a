SELECT
    second_reading.id, trial_id, first_read_by, read_by, read_at, strips_per_coupon, readings, remarks,
    second_reading.supersedes, second_reading.recorded_at
FROM second_reading
JOIN trial ON trial.organization_id = $1 AND trial.id = trial_id
WHERE
    second_reading.organization_id = $1
    -- Neither withdrawn itself nor read of a trial that no longer counts.
    AND second_reading.id NOT IN (SELECT uncounted.record_id FROM uncounted WHERE uncounted.organization_id = $1)
    AND trial.id NOT IN (SELECT uncounted.record_id FROM uncounted WHERE uncounted.organization_id = $1)
    AND ($2::uuid IS NULL OR trial_id = $2)
    AND ($3::uuid IS NULL OR crew_id = $3)
    AND ($4::timestamptz IS NULL OR read_at >= $4)
    AND ($5::timestamptz IS NULL OR read_at < $5)
ORDER BY read_at, second_reading.id
