SELECT
    id, ordered_at, material_class, purpose, outcome, sheet_temperature_c,
    coalesce(speed_timed_m_per_min, speed_set_m_per_min) AS speed_m_per_min,
    speed_timed_m_per_min / speed_set_m_per_min AS speed_ratio, voltage_loaded_v,
    band_low_c, band_high_c, set_point_c, wind_m_per_s, upper_membrane_id, upper_lot_id, lower_membrane_id,
    lower_lot_id, site_id
FROM trial
WHERE organization_id = $1 AND unit_id = $2 AND NOT ahead_of_clock
  AND NOT EXISTS (
      SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = trial.id
  )
ORDER BY ordered_at, id
