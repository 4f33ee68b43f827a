SELECT bytes FROM custody WHERE organization_id = $1 AND id = $2
