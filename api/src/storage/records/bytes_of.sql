SELECT record_id, bytes
FROM submission
WHERE organization_id = $1 AND record_id = ANY($2) AND disposition = 'accepted'
