SELECT
    id, digest, size, held_as, reason, findings, schema, record_id, received_at, actor_kind, actor_id, crew_id, outcome,
    settled_because, patch, released_as, settled_at, settled_by_kind, settled_by_id, state
FROM held
WHERE organization_id = $1 AND digest = $2
