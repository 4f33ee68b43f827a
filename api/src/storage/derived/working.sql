-- By the index on a unit's trials: one look a unit, however long its history.
SELECT unit_state.unit_id, last.set_point_c, last.upper_membrane_id, last.lower_membrane_id
FROM unit_state
CROSS JOIN LATERAL (
    SELECT set_point_c, upper_membrane_id, lower_membrane_id
    FROM trial
    WHERE organization_id = $1 AND unit_id = unit_state.unit_id AND NOT ahead_of_clock AND set_point_c IS NOT NULL
      AND NOT EXISTS (
          SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = trial.id
      )
    ORDER BY ordered_at DESC, id DESC
    LIMIT 1
) AS last
WHERE unit_state.organization_id = $1
