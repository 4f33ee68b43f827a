SELECT id, unit_id, performed_at, kind, affects_heat, parts, performed_by, remarks
FROM service_event
WHERE organization_id = $1 AND unit_id = $2
  AND NOT EXISTS (SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = service_event.id)
ORDER BY performed_at, id
