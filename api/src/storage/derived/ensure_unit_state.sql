INSERT INTO unit_state (organization_id, unit_id, standing, reasons)
VALUES ($1, $2, 'new', '{}')
ON CONFLICT DO NOTHING
