INSERT INTO app (organization_id, id, name, scopes, crew_id, created_at, expires_at)
VALUES ($1, $2, $3, $4, $5, $6, $7)
