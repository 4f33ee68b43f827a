INSERT INTO seam_check (
    organization_id, id, span_id, unit_id, checked_at, method, result, place, checked_by, remarks,
    supersedes, recorded_at
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)
