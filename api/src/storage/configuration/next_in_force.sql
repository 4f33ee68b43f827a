-- The first time behind $2 at which something comes into force.
SELECT min(effective_from) AS at
FROM (
    SELECT organization_id, effective_from FROM site
    UNION ALL
    SELECT organization_id, effective_from FROM crew
    UNION ALL
    SELECT organization_id, effective_from FROM membrane
    UNION ALL
    SELECT organization_id, effective_from FROM lot
    UNION ALL
    SELECT organization_id, effective_from FROM unit
    UNION ALL
    SELECT organization_id, effective_from FROM criteria_exception
    UNION ALL
    SELECT organization_id, effective_from FROM criteria
    UNION ALL
    SELECT organization_id, effective_from FROM policy
) AS version
WHERE organization_id = $1 AND effective_from > $2
