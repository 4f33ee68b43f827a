INSERT INTO recheck (
    organization_id, id, unit_id, crew_id, reasons, purpose, due_on, due_at, state, satisfied_by
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
