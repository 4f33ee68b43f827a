SELECT custody_id, reason = ANY($3) AS wanted
FROM custody_open
WHERE organization_id = $1 AND ($2::uuid IS NULL OR custody_id > $2)
ORDER BY custody_id
LIMIT $4
