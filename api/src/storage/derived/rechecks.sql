SELECT id, unit_id, crew_id, reasons, purpose, due_on, due_at, state, satisfied_by
FROM recheck
WHERE organization_id = $1
  AND ($2::uuid IS NULL OR crew_id = $2)
  -- What is open turns overdue by the passing of time alone: told on reading, at $4.
  AND ($3::text IS NULL OR $3 = CASE WHEN state IN ('open', 'overdue')
        THEN CASE WHEN due_at <= $4 THEN 'overdue' ELSE 'open' END ELSE state END)
ORDER BY due_at DESC, id
