-- Checks of what was welded with a unit. A check names the span as it stood then, which another may have taken the place of, or
-- given it back: it is shown under every span of that chain that the unit has, of which one counts at most.
WITH chained AS (
    SELECT span.id, chain.root_id
    FROM production_span AS span
    CROSS JOIN LATERAL (
        SELECT root_id FROM correction WHERE correction.organization_id = $1 AND correction.record_id = span.id
        UNION ALL
        (SELECT root_id FROM correction WHERE correction.organization_id = $1 AND correction.root_id = span.id LIMIT 1)
    ) AS chain
    WHERE span.organization_id = $1 AND span.unit_id = $2 AND span.ended_at >= $3
),
named AS (
    SELECT id, root_id AS span_id FROM chained
    UNION ALL
    SELECT chained.id, correction.record_id
    FROM chained
    JOIN correction ON correction.organization_id = $1 AND correction.root_id = chained.root_id
),
counted AS (
    SELECT id, span_id, unit_id, checked_at, method, result, place, checked_by, remarks, supersedes, recorded_at
    FROM seam_check
    WHERE organization_id = $1 AND unit_id = $2 AND checked_at >= $3
    UNION
    SELECT
        seam_check.id, named.id, unit_id, checked_at, method, result, place, checked_by, remarks, supersedes, recorded_at
    FROM named
    JOIN seam_check ON seam_check.organization_id = $1 AND seam_check.span_id = named.span_id
)
SELECT * FROM counted
WHERE NOT EXISTS (
    SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = counted.id
)
ORDER BY checked_at, id, span_id
