SELECT id, sign_in, name, role, crew_id
FROM person
WHERE organization_id = $1 AND disabled_at IS NULL
ORDER BY sign_in
