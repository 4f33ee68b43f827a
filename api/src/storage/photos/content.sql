SELECT sha256, media_type, size_bytes, width_px, height_px, stored_at
FROM photo_content
WHERE organization_id = $1 AND sha256 = $2
