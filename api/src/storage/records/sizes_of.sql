SELECT record_id, octet_length(bytes) AS size
FROM submission
WHERE organization_id = $1 AND record_id = ANY($2) AND disposition = 'accepted'
