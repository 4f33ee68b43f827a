-- Counted, so that each is looked up: as NOT EXISTS, all that is withdrawn would be read.
SELECT trial_close.trial_id
FROM trial_close
WHERE
    trial_close.organization_id = $1 AND trial_close.open_trial_id = $2
    AND (
        SELECT count(*) FROM uncounted
        WHERE
            uncounted.organization_id = $1 AND uncounted.record_id = trial_close.trial_id
            AND uncounted.disposition = 'retracted'
    ) = 0
