SELECT unit_id
FROM unit_state
WHERE organization_id = $1 AND unit_id = ANY($2)
ORDER BY unit_id
FOR UPDATE
