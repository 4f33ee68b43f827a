SELECT count(*) AS waiting
FROM held
WHERE organization_id = $1 AND state = 'open' AND ($2::uuid IS NULL OR crew_id = $2 OR actor_id = $3)
