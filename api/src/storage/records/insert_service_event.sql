INSERT INTO service_event (
    organization_id, id, unit_id, performed_at, kind, affects_heat, parts, performed_by, remarks,
    work, supersedes, recorded_at
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)
