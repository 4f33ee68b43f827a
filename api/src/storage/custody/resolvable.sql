-- In any order: were the oldest always first, many hopeless ones would keep all others waiting.
SELECT id, bytes, received_at, actor_kind, actor_id, crew_id
FROM held
WHERE organization_id = $1 AND state = 'open' AND held_as = 'quarantined' AND reason = ANY($2)
ORDER BY random()
LIMIT $3
