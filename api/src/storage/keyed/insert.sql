INSERT INTO keyed_request (organization_id, actor_id, key, digest, made_id, made_at)
VALUES ($1, $2, $3, $4, $5, $6)
ON CONFLICT (organization_id, actor_id, key) DO NOTHING
