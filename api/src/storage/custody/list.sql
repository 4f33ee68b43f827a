SELECT
    id, digest, size, held_as, reason, findings, schema, record_id, received_at, actor_kind, actor_id, crew_id, outcome,
    settled_because, patch, released_as, settled_at, settled_by_kind, settled_by_id, state
FROM held
WHERE
    organization_id = $1
    AND ($2::text IS NULL OR state = $2)
    AND ($3::uuid IS NULL OR crew_id = $3 OR actor_id = $4)
    AND ($5::timestamptz IS NULL OR (received_at, id) < ($5, $6))
ORDER BY received_at DESC, id DESC
LIMIT $7
