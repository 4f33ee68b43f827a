INSERT INTO trial_close (organization_id, id, open_trial_id, trial_id) VALUES ($1, $2, $3, $4)
