SELECT id, sign_in, name, role, crew_id, password_hash
FROM person
WHERE organization_id = $1 AND id = $2 AND disabled_at IS NULL
