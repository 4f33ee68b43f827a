-- The next $4 entries behind $2 of the kinds $3, with what tells whom each concerns. What a record says of its unit and crew
-- is read from the record: only derived things go, and of one that is gone both are unknown.
SELECT
    entry.seq, entry.kind, entry.subject_id, entry.changed_at, thing.unit_id, thing.crew_id, thing.there,
    NOT EXISTS (
        SELECT FROM change AS before
        WHERE
            before.organization_id = $1 AND before.subject_id = entry.subject_id AND before.kind = entry.kind
            AND before.seq < entry.seq
    ) AS first
FROM change AS entry
LEFT JOIN LATERAL (
    SELECT unit_id, crew_id, true AS there FROM trial
    WHERE entry.kind = 'trial' AND organization_id = $1 AND id = entry.subject_id
    UNION ALL
    SELECT trial.unit_id, trial.crew_id, true FROM second_reading
    JOIN trial ON trial.organization_id = $1 AND trial.id = second_reading.trial_id
    WHERE
        entry.kind = 'second_reading' AND second_reading.organization_id = $1
        AND second_reading.id = entry.subject_id
    UNION ALL
    SELECT NULL, crew_id, true FROM custody
    WHERE entry.kind = 'custody' AND organization_id = $1 AND id = entry.subject_id
    UNION ALL
    SELECT unit_id, NULL, true FROM service_event
    WHERE entry.kind = 'service_event' AND organization_id = $1 AND id = entry.subject_id
    UNION ALL
    SELECT NULL, crew_id, true FROM day_plan
    WHERE entry.kind = 'day_plan' AND organization_id = $1 AND id = entry.subject_id
    UNION ALL
    SELECT unit_id, crew_id, true FROM production_span
    WHERE entry.kind = 'production_span' AND organization_id = $1 AND id = entry.subject_id
    UNION ALL
    SELECT unit_id, NULL, true FROM decision
    WHERE entry.kind = 'decision' AND organization_id = $1 AND id = entry.subject_id
    UNION ALL
    SELECT unit_id, NULL, true FROM flag
    WHERE entry.kind = 'flag' AND organization_id = $1 AND id = entry.subject_id
    UNION ALL
    SELECT unit_id, crew_id, true FROM recheck
    WHERE entry.kind = 'recheck' AND organization_id = $1 AND id = entry.subject_id
    UNION ALL
    SELECT entry.subject_id, NULL, true
    WHERE entry.kind IN ('unit', 'standing')
) AS thing ON true
WHERE entry.organization_id = $1 AND entry.seq > $2 AND entry.kind = ANY($3)
ORDER BY entry.seq
LIMIT $4
