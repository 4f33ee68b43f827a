SELECT * FROM fleet_fit_unit WHERE organization_id = $1 AND fit_id = $2 ORDER BY material_class, unit_id
