SELECT
    id, unit_id, performed_at, coalesce(work, ARRAY[kind]) AS work, affects_heat, parts, performed_by, remarks,
    supersedes, recorded_at
FROM service_event
WHERE organization_id = $1
  AND NOT EXISTS (
      SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = service_event.id
  )
ORDER BY performed_at, id
