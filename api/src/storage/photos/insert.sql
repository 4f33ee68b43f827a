INSERT INTO photo (
    organization_id, id, subject_id, subject_kind, coupon, sha256, taken_at, taken_by, caption
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
