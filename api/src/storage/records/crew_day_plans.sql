SELECT id, crew_id, date, welding, unit_ids, reason, recorded_at, supersedes
FROM day_plan
WHERE organization_id = $1 AND crew_id = $2 AND date >= $3
  AND NOT EXISTS (
      SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = day_plan.id
  )
ORDER BY date, recorded_at, id
