INSERT INTO upload (
    organization_id, id, sha256, size_bytes, received_bytes, crew_id, begun_at, latest_at, finished_at
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
