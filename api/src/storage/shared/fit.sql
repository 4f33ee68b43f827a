SELECT * FROM shared_fit WHERE organization_id = $1 AND id = $2
