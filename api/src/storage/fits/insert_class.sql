INSERT INTO fleet_fit_class (
    organization_id, fit_id, material_class, basis, units, identified, heat_share, between_units, predictive_sd
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
