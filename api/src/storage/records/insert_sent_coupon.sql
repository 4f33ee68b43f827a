INSERT INTO open_trial_coupon (organization_id, id, open_trial_id, recorded_at) VALUES ($1, $2, $3, $4)
