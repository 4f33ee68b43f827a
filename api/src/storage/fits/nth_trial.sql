SELECT id FROM trial WHERE organization_id = $1 AND performed_at >= $2 ORDER BY performed_at, id OFFSET $3 LIMIT 1
