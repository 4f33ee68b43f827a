SELECT person.id, person.sign_in, person.name, person.role, person.crew_id
FROM session
JOIN person ON person.organization_id = session.organization_id AND person.id = session.person_id
WHERE session.organization_id = $1 AND session.secret_digest = $2 AND session.expires_at > $3
  AND person.disabled_at IS NULL
