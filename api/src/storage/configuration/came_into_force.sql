-- What has come into force by $2, by a version that was recorded before, without an entry of the change feed since: a reader
-- that read it when it was recorded saw the version before.
SELECT kind, id
FROM (
    SELECT 'site' AS kind, organization_id, id, effective_from, recorded_at FROM site
    UNION ALL
    SELECT 'crew', organization_id, id, effective_from, recorded_at FROM crew
    UNION ALL
    SELECT 'membrane', organization_id, id, effective_from, recorded_at FROM membrane
    UNION ALL
    SELECT 'lot', organization_id, id, effective_from, recorded_at FROM lot
    UNION ALL
    SELECT 'unit', organization_id, id, effective_from, recorded_at FROM unit
    UNION ALL
    SELECT 'criteria_exception', organization_id, id, effective_from, recorded_at FROM criteria_exception
    UNION ALL
    SELECT 'criteria', organization_id, organization_id, effective_from, recorded_at FROM criteria
    UNION ALL
    SELECT 'policy', organization_id, organization_id, effective_from, recorded_at FROM policy
) AS version
WHERE
    organization_id = $1 AND effective_from <= $2 AND effective_from > recorded_at
    AND NOT EXISTS (
        SELECT FROM change
        WHERE
            change.organization_id = $1 AND change.subject_id = version.id AND change.kind = version.kind
            AND change.changed_at >= version.effective_from
    )
GROUP BY kind, id
ORDER BY kind, id
