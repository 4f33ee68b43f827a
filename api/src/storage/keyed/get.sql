SELECT digest, made_id, made_at
FROM keyed_request
WHERE organization_id = $1 AND actor_id = $2 AND key = $3
