SELECT id, span_id, unit_id, checked_at, method, result, place, checked_by, remarks, supersedes, recorded_at
FROM seam_check
WHERE organization_id = $1 AND unit_id = $2 AND checked_at >= $3
  AND NOT EXISTS (
      SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = seam_check.id
  )
ORDER BY checked_at, id
