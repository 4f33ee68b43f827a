SELECT unit_id FROM production_span WHERE organization_id = $1 AND id = $2
