SELECT id, bytes, received_at, actor_kind, actor_id, crew_id
FROM held
WHERE organization_id = $1 AND state = 'open' AND held_as = 'quarantined' AND reason = ANY($2)
ORDER BY received_at, id
LIMIT $3
