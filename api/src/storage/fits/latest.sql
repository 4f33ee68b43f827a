SELECT * FROM fleet_fit WHERE organization_id = $1 ORDER BY effective_from DESC, id DESC LIMIT $2
