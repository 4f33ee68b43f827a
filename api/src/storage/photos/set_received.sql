UPDATE upload SET received_bytes = $3, latest_at = $4, finished_at = $5
WHERE organization_id = $1 AND id = $2
