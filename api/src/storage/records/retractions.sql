SELECT id, record_id, retracted_at, reason
FROM retraction
WHERE organization_id = $1 AND ($2::uuid IS NULL OR record_id = $2) AND retracted_at >= $3
ORDER BY retracted_at, id
