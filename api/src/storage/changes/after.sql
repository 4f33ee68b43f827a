-- At most $5 entries behind $2, up to $3, of the kinds $4, with what tells whom each concerns. What a record says of its unit
-- and crew is read from the record, of a retraction or a photo from what it is about. Only derived things go: of one that is gone both
-- are unknown.
SELECT
    entry.seq, entry.kind, entry.subject_id, entry.changed_at, thing.unit_id, thing.crew_id, thing.there,
    coalesce(retraction.retracted_at, thing.since) AS since,
    NOT EXISTS (
        SELECT FROM change AS before
        WHERE
            before.organization_id = $1 AND before.subject_id = entry.subject_id AND before.kind = entry.kind
            AND before.seq < entry.seq
    ) AS first
FROM change AS entry
LEFT JOIN retraction
    ON entry.kind = 'retraction' AND retraction.organization_id = $1 AND retraction.id = entry.subject_id
LEFT JOIN photo
    ON photo.organization_id = $1
    AND photo.id = CASE
        WHEN entry.kind = 'photo' THEN entry.subject_id
        WHEN retraction.record_kind = 'photo' THEN retraction.record_id
    END
CROSS JOIN LATERAL (
    SELECT
        coalesce(photo.subject_kind, retraction.record_kind, entry.kind) AS kind,
        coalesce(photo.subject_id, retraction.record_id, entry.subject_id) AS id
) AS about
LEFT JOIN LATERAL (
    SELECT unit_id, crew_id, NULL::timestamptz AS since, true AS there FROM trial
    WHERE about.kind = 'trial' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT unit_id, crew_id, NULL, true FROM open_trial
    WHERE
        organization_id = $1
        AND id = CASE about.kind
            WHEN 'open_trial' THEN about.id
            WHEN 'coupon' THEN (
                SELECT open_trial_id FROM open_trial_coupon AS coupon
                WHERE coupon.organization_id = $1 AND coupon.id = about.id
            )
            WHEN 'trial_close' THEN (
                SELECT open_trial_id FROM trial_close WHERE trial_close.organization_id = $1 AND trial_close.id = about.id
            )
        END
    UNION ALL
    SELECT trial.unit_id, trial.crew_id, NULL, true FROM second_reading
    JOIN trial ON trial.organization_id = $1 AND trial.id = second_reading.trial_id
    WHERE
        about.kind = 'second_reading' AND second_reading.organization_id = $1
        AND second_reading.id = about.id
    UNION ALL
    SELECT NULL, crew_id, NULL, true FROM custody
    WHERE about.kind = 'custody' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT unit_id, NULL, NULL, true FROM service_event
    WHERE about.kind = 'service_event' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT NULL, crew_id, date::timestamp AT TIME ZONE 'UTC', true FROM day_plan
    WHERE about.kind = 'day_plan' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT unit_id, crew_id, ended_at, true FROM production_span
    WHERE about.kind = 'production_span' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT unit_id, crew_id, happened_at, true FROM day_event
    WHERE about.kind = 'day_event' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT unit_id, NULL, checked_at, true FROM seam_check
    WHERE about.kind = 'seam_check' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT unit_id, NULL, NULL, true FROM decision
    WHERE about.kind = 'decision' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT NULL, NULL, decided_at, true FROM shared_decision
    WHERE about.kind = 'shared_decision' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT unit_id, NULL, NULL, true FROM flag
    WHERE about.kind = 'flag' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT unit_id, crew_id, NULL, true FROM recheck
    WHERE about.kind = 'recheck' AND organization_id = $1 AND id = about.id
    UNION ALL
    SELECT about.id, NULL, NULL, true
    WHERE about.kind IN ('unit', 'standing')
) AS thing ON true
WHERE entry.organization_id = $1 AND entry.seq > $2 AND entry.seq <= $3 AND entry.kind = ANY($4)
ORDER BY entry.seq
LIMIT $5
