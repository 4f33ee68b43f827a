SELECT FROM app WHERE organization_id = $1 AND id = $2 AND revoked_at IS NULL
UNION ALL
SELECT FROM person WHERE organization_id = $1 AND id = $2 AND disabled_at IS NULL
