SELECT id, sha256, size_bytes, received_bytes, crew_id, begun_at, latest_at, finished_at
FROM upload
WHERE organization_id = $1 AND ($2::uuid IS NULL OR crew_id = $2) AND latest_at < $3 AND finished_at IS NULL
ORDER BY latest_at, id
LIMIT $4
