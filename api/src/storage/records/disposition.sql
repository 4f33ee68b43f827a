-- A retraction outweighs a correction.
SELECT disposition
FROM uncounted
WHERE organization_id = $1 AND record_id = $2
ORDER BY disposition
LIMIT 1
