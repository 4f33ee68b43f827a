SELECT id, kind, unit_id, series, concern, decided_at, seen_id, remark
FROM decision
WHERE organization_id = $1 AND unit_id = $2
  AND NOT EXISTS (
      SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = decision.id
  )
ORDER BY decided_at, id
