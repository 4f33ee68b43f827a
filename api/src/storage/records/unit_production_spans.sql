SELECT
    id, unit_id, crew_id, started_at, ended_at, place, membrane_id, lot_id, set_temperature_c, speed_m_per_min,
    length_m * 1000 AS length_mm, supersedes, recorded_at
FROM production_span
WHERE organization_id = $1 AND unit_id = $2 AND ended_at >= $3
  AND NOT EXISTS (
      SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = production_span.id
  )
ORDER BY started_at, id
