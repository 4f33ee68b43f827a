SELECT id, unit_id, crew_id, reasons, purpose, due_on, due_at, state, satisfied_by
FROM recheck
WHERE organization_id = $1 AND state = 'open'
ORDER BY due_at DESC, id
