-- Checks of what was welded with a unit. A check names the span as it stood then, which another may have taken the place of, or
-- given it back: it is shown under the span of that chain that counts.
SELECT
    seam_check.id, span.id AS span_id, span.unit_id, checked_at, method, result, seam_check.place, checked_by, remarks,
    seam_check.supersedes, seam_check.recorded_at
FROM production_span AS span
LEFT JOIN correction AS own ON own.organization_id = $1 AND own.record_id = span.id
CROSS JOIN LATERAL (
    SELECT coalesce(own.root_id, span.id) AS id
    UNION ALL
    SELECT chained.record_id FROM correction AS chained
    WHERE chained.organization_id = $1 AND chained.root_id = coalesce(own.root_id, span.id)
) AS named
JOIN seam_check ON seam_check.organization_id = $1 AND seam_check.span_id = named.id
WHERE
    span.organization_id = $1 AND span.unit_id = $2 AND span.ended_at >= $3
    AND span.id NOT IN (SELECT uncounted.record_id FROM uncounted WHERE uncounted.organization_id = $1)
    AND seam_check.id NOT IN (SELECT uncounted.record_id FROM uncounted WHERE uncounted.organization_id = $1)
ORDER BY checked_at, seam_check.id
