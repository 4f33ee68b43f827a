SELECT trial_id, edge, profile
FROM evidence
WHERE organization_id = $1 AND trial_id = $2
