SELECT *
FROM shared_fit
WHERE organization_id = $1 AND made_at <= $2
ORDER BY made_at DESC, id DESC
LIMIT 1
