SELECT
    id, unit_id, performed_at, coalesce(work, ARRAY[kind]) AS work, affects_heat, parts, performed_by, remarks,
    supersedes, recorded_at
FROM service_event
WHERE organization_id = $1
  AND service_event.id NOT IN (SELECT uncounted.record_id FROM uncounted WHERE uncounted.organization_id = $1)
ORDER BY performed_at, id
