DELETE FROM upload WHERE organization_id = $1 AND id = $2
