SELECT id, crew_id, date, welding, unit_ids, reason, recorded_at
FROM day_plan
WHERE organization_id = $1 AND crew_id = $2 AND date >= $3
ORDER BY date, recorded_at, id
