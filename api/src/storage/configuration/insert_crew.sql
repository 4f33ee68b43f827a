INSERT INTO crew (
    organization_id, id, effective_from, recorded_at, retired, name, site_id, temperature_unit,
    speed_unit
)
VALUES (
    $1, $2, $3,
    -- Two versions within one microsecond: the later one counts.
    greatest($4, (SELECT max(recorded_at) + interval '1 microsecond' FROM crew
                  WHERE organization_id = $1 AND id = $2 AND effective_from = $3)),
    $5, $6, $7, $8, $9
)
ON CONFLICT DO NOTHING
