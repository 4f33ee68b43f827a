SELECT record_id FROM retraction WHERE organization_id = $1 AND id = $2
