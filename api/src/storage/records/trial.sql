SELECT
    id, unit_id, crew_id, site_id, material_class, purpose, performed_at, outcome, grade, band_low_c, band_high_c,
    set_point_c,
    (SELECT min(uncounted.disposition) FROM uncounted
     WHERE uncounted.organization_id = $1 AND uncounted.record_id = trial.id) AS disposition
FROM trial
WHERE organization_id = $1 AND id = $2
