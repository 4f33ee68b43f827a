SELECT * FROM shared_shift WHERE organization_id = $1 AND fit_id = $2 ORDER BY ordinal
