DELETE FROM shared_shift_own
WHERE
    organization_id = $1
    AND fit_id IN (SELECT id FROM shared_fit WHERE organization_id = $1 AND made_at < $2)
