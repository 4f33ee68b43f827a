SELECT
    id, unit_id, crew_id, site_id, material_class, purpose, performed_at, outcome, grade, band_low_c, band_high_c,
    set_point_c,
    (SELECT min(uncounted.disposition) FROM uncounted
     WHERE uncounted.organization_id = $1 AND uncounted.record_id = trial.id) AS disposition
FROM trial
WHERE organization_id = $1
  AND ($2::uuid IS NULL OR unit_id = $2)
  AND ($3::uuid IS NULL OR crew_id = $3)
  AND ($4::text IS NULL OR purpose = $4)
  AND ($5::text IS NULL OR outcome = $5)
  AND ($6::timestamptz IS NULL OR performed_at >= $6)
  AND ($7::timestamptz IS NULL OR performed_at < $7)
  AND ($8::timestamptz IS NULL OR (performed_at, id) < ($8, $9::uuid))
ORDER BY performed_at DESC, id DESC
LIMIT $10
