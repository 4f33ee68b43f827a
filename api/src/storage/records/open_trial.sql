SELECT id, unit_id, crew_id, performed_at, state, closed_as, coupons
FROM begun_trial
WHERE organization_id = $1 AND id = $2
