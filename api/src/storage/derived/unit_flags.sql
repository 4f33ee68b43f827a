SELECT
    id, unit_id, kind, series, state, severity, opened_at, first_trial_id, onset_from, onset_to, shift_k, shift_sd_k,
    sentence, causes, limit_state, limit_earliest, limit_middle, limit_latest
FROM flag
WHERE organization_id = $1
  AND unit_id = $2
  AND ($3::text IS NULL OR state = $3)
  AND ($4::uuid IS NULL OR id = $4)
ORDER BY opened_at DESC, id
