INSERT INTO open_trial (organization_id, id, unit_id, crew_id, performed_at) VALUES ($1, $2, $3, $4, $5)
