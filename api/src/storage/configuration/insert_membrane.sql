INSERT INTO membrane (
    organization_id, id, effective_from, recorded_at, retired, name, material_class, thickness_mm,
    reinforced, maker_ceiling_c
)
VALUES (
    $1, $2, $3,
    -- Two versions within one microsecond: the later one counts.
    greatest($4, (SELECT max(recorded_at) + interval '1 microsecond' FROM membrane
                  WHERE organization_id = $1 AND id = $2 AND effective_from = $3)),
    $5, $6, $7, $8, $9, $10
)
ON CONFLICT DO NOTHING
