SELECT content.sha256, content.media_type, content.size_bytes, content.width_px, content.height_px, content.stored_at
FROM photo_content AS content
WHERE
    content.organization_id = $1 AND content.stored_at < $2
    AND NOT EXISTS (
        SELECT FROM photo
        WHERE
            photo.organization_id = content.organization_id AND photo.sha256 = content.sha256
            -- Counted, so that each is looked up.
            AND (
                SELECT count(*) FROM uncounted
                WHERE uncounted.organization_id = photo.organization_id AND uncounted.record_id = photo.id
            ) = 0
    )
ORDER BY content.stored_at, content.sha256
LIMIT $3
