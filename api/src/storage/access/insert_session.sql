INSERT INTO session (organization_id, secret_digest, person_id, created_at, expires_at)
VALUES ($1, $2, $3, $4, $5)
