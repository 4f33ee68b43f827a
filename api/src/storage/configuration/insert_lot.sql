INSERT INTO lot (
    organization_id, id, effective_from, recorded_at, retired, membrane_id, code, produced_on
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
