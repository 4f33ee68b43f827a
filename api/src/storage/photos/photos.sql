SELECT
    photo.id, photo.subject_id, photo.coupon, photo.sha256, photo.taken_at, photo.taken_by, photo.caption,
    content.media_type, content.size_bytes, content.width_px, content.height_px, content.stored_at
FROM photo
LEFT JOIN photo_content AS content
    ON content.organization_id = photo.organization_id AND content.sha256 = photo.sha256
WHERE
    photo.organization_id = $1 AND photo.subject_id = ANY($2)
    -- Counted, so that each is looked up.
    AND (
        SELECT count(*) FROM uncounted
        WHERE uncounted.organization_id = photo.organization_id AND uncounted.record_id = photo.id
    ) = 0
ORDER BY photo.taken_at, photo.id
