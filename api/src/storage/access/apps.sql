SELECT id, name, scopes, crew_id, expires_at, revoked_at
FROM app
WHERE organization_id = $1
ORDER BY created_at DESC, id
