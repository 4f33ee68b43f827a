INSERT INTO day_plan (organization_id, id, crew_id, date, welding, unit_ids, reason, recorded_at, supersedes)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
