INSERT INTO correction (organization_id, record_id, supersedes, root_id, recorded_at)
VALUES ($1, $2, $3, $4, $5)
