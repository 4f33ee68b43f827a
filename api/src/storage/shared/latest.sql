SELECT * FROM shared_fit WHERE organization_id = $1 ORDER BY made_at DESC, id DESC LIMIT $2
