SELECT other.record_id
FROM correction AS own
JOIN correction AS other
    ON other.organization_id = $1 AND other.supersedes = own.supersedes AND other.record_id <> own.record_id
WHERE
    own.organization_id = $1 AND own.record_id = $2
    AND NOT EXISTS (
        SELECT FROM retracted WHERE retracted.organization_id = $1 AND retracted.record_id = own.record_id
    )
    AND NOT EXISTS (
        SELECT FROM retracted WHERE retracted.organization_id = $1 AND retracted.record_id = other.record_id
    )
ORDER BY other.recorded_at, other.record_id
