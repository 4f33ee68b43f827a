SELECT * FROM fleet_fit_class WHERE organization_id = $1 AND fit_id = $2
