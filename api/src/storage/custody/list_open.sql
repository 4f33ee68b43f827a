SELECT
    id, digest, size, held_as, held.reason, findings, schema, record_id, held.received_at, actor_kind, actor_id, crew_id, outcome,
    settled_because, patch, released_as, settled_at, settled_by_kind, settled_by_id, state
FROM custody_open
JOIN held ON held.organization_id = $1 AND held.id = custody_open.custody_id AND held.state = 'open'
WHERE
    custody_open.organization_id = $1
    AND ($2::uuid IS NULL OR crew_id = $2 OR actor_id = $3)
    AND ($4::timestamptz IS NULL OR (custody_open.received_at, custody_id) < ($4, $5))
ORDER BY custody_open.received_at DESC, custody_id DESC
LIMIT $6
