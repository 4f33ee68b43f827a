INSERT INTO second_reading (
    organization_id, id, trial_id, first_read_by, read_by, read_at, strips_per_coupon, readings, remarks, supersedes,
    recorded_at
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
