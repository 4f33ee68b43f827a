SELECT
    effective_from, bond_width_automatic_mm, bond_width_hand_mm, minimum_strips, share_limit,
    cold_weight, hot_weight, ceiling_c
FROM criteria
WHERE organization_id = $1 AND effective_from <= $2
ORDER BY effective_from DESC, recorded_at DESC
LIMIT 1
