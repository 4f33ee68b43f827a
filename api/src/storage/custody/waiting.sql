-- Beyond a thousand nobody counts.
SELECT count(*) AS waiting
FROM (
    SELECT
    FROM custody_open
    JOIN held ON held.organization_id = $1 AND held.id = custody_open.custody_id AND held.state = 'open'
    WHERE custody_open.organization_id = $1 AND ($2::uuid IS NULL OR crew_id = $2 OR actor_id = $3)
    LIMIT $4
) AS counted
