SELECT custody_id
FROM custody_open
WHERE organization_id = $1 AND reason = $2 AND ($3::uuid IS NULL OR custody_id > $3)
ORDER BY custody_id
LIMIT $4
