SELECT photo.id, photo.subject_id
FROM photo
WHERE
    photo.organization_id = $1 AND photo.sha256 = $2
    -- Counted, so that each is looked up.
    AND (
        SELECT count(*) FROM uncounted
        WHERE uncounted.organization_id = photo.organization_id AND uncounted.record_id = photo.id
    ) = 0
ORDER BY photo.id
