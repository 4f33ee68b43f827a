SELECT unit_id
FROM unit_state
WHERE organization_id = $1 AND (derived_at IS NULL OR derived_at < $2)
ORDER BY unit_id
