INSERT INTO person (organization_id, id, sign_in, name, role, crew_id, password_hash, created_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
