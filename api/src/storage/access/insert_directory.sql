INSERT INTO directory (organization_id, key_hash, subject_id)
VALUES ($1, $2, $3)
ON CONFLICT (key_hash) DO NOTHING
