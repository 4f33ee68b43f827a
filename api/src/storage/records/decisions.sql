SELECT id, kind, unit_id, series, concern, decided_at, seen_id, remark
FROM decision
WHERE organization_id = $1
ORDER BY decided_at, id
