SELECT id, sha256, size_bytes, received_bytes, crew_id, begun_at, latest_at, finished_at
FROM upload
WHERE organization_id = $1 AND id = $2
FOR UPDATE
