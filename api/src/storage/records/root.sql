SELECT root_id FROM correction WHERE organization_id = $1 AND record_id = $2
