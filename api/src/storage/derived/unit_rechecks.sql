SELECT id, unit_id, crew_id, reasons, purpose, due_on, due_at, state, satisfied_by
FROM recheck
WHERE organization_id = $1
  AND unit_id = $2
  AND ($3::uuid IS NULL OR crew_id = $3)
  -- What is open turns overdue by the passing of time alone: told on reading, at $5.
  AND ($4::text IS NULL OR $4 = CASE WHEN state IN ('open', 'overdue')
        THEN CASE WHEN due_at <= $5 THEN 'overdue' ELSE 'open' END ELSE state END)
ORDER BY due_at DESC, id
