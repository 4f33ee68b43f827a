SELECT
    digest,
    coalesce(
        (SELECT min(uncounted.disposition) FROM uncounted
         WHERE uncounted.organization_id = $1 AND uncounted.record_id = submission.record_id),
        'accepted'
    ) AS disposition,
    received_at
FROM submission
WHERE organization_id = $1 AND digest = ANY($2) AND disposition = 'accepted'
UNION ALL
SELECT digest, CASE state WHEN 'open' THEN held_as ELSE state END, received_at
FROM held
WHERE
    organization_id = $1
    AND digest = ANY($2)
    -- The same bytes accepted since stand above.
    AND (outcome IS NOT NULL OR state = 'open')
