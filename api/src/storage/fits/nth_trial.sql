SELECT id
FROM trial
WHERE
    organization_id = $1 AND performed_at >= $2 AND NOT ahead_of_clock
    AND NOT EXISTS (
        SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = trial.id
    )
ORDER BY performed_at, id
OFFSET $3
LIMIT 1
