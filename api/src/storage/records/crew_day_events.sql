SELECT
    id, crew_id, unit_id, happened_at, kind, sheet_temperature_c, wind_m_per_s, membrane_id, lot_id, operator, remarks,
    supersedes, recorded_at
FROM day_event
WHERE organization_id = $1 AND crew_id = $2 AND happened_at >= $3
  AND NOT EXISTS (
      SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = day_event.id
  )
ORDER BY happened_at, id
