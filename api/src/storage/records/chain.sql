SELECT record_id
FROM correction
WHERE organization_id = $1 AND root_id = $2
ORDER BY recorded_at, record_id
