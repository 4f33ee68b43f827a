SELECT kind, digest, bytes, received_at, actor_kind, actor_id
FROM submission
WHERE organization_id = $1 AND record_id = $2 AND disposition = 'accepted'
