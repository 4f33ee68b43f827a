SELECT
    class.material_class, class.basis, class.units, class.identified, class.heat_share, class.between_units,
    class.predictive_sd
FROM (
    SELECT id
    FROM fleet_fit
    WHERE organization_id = $1 AND effective_from <= $2
    ORDER BY effective_from DESC, id DESC
    LIMIT 1
) AS fit
JOIN fleet_fit_class AS class ON class.organization_id = $1 AND class.fit_id = fit.id
ORDER BY class.material_class
