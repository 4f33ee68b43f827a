SELECT id, kind, unit_id, series, concern, decided_at, seen_id, remark
FROM decision
WHERE organization_id = $1
  AND decision.id NOT IN (SELECT uncounted.record_id FROM uncounted WHERE uncounted.organization_id = $1)
ORDER BY decided_at, id
