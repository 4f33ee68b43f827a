SELECT id
FROM trial
WHERE
    organization_id = $1 AND performed_at >= $2 AND NOT ahead_of_clock
    AND trial.id NOT IN (SELECT uncounted.record_id FROM uncounted WHERE uncounted.organization_id = $1)
ORDER BY performed_at, id
OFFSET $3
LIMIT 1
