INSERT INTO flag (
    organization_id, id, unit_id, kind, series, state, severity, opened_at, first_trial_id, onset_from, onset_to,
    shift_k, shift_sd_k, sentence, causes, limit_state, limit_earliest, limit_middle, limit_latest
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19)
