INSERT INTO criteria (
    organization_id, effective_from, recorded_at, bond_width_automatic_mm, bond_width_hand_mm,
    minimum_strips, share_limit, cold_weight, hot_weight, ceiling_c
)
VALUES (
    $1, $2,
    -- Two versions within one microsecond: the later one counts.
    greatest($3, (SELECT max(recorded_at) + interval '1 microsecond' FROM criteria
                  WHERE organization_id = $1 AND effective_from = $2)),
    $4, $5, $6, $7, $8, $9, $10
)
ON CONFLICT DO NOTHING
