SELECT bytes, received_at, actor_kind, actor_id, crew_id
FROM held
WHERE organization_id = $1 AND id = $2 AND state = 'open' AND held_as = 'quarantined'
