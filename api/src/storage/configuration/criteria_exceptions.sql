-- In force at $2: the latest version from before; where there is none, the first one after.
SELECT DISTINCT ON (id)
    id, effective_from, retired, name, site_id, membrane_id, weld_method, bond_width_mm, minimum_strips, share_limit,
    cold_weight, hot_weight, ceiling_c
FROM criteria_exception
WHERE organization_id = $1 AND id BETWEEN $3 AND $4
ORDER BY id, effective_from <= $2 DESC,
    CASE WHEN effective_from <= $2 THEN effective_from END DESC, effective_from, recorded_at DESC
