INSERT INTO photo_content (organization_id, sha256, media_type, size_bytes, width_px, height_px, stored_at)
VALUES ($1, $2, $3, $4, $5, $6, $7)
ON CONFLICT DO NOTHING
