-- Trials that are sent piece by piece: a header, coupons as their strips are peeled, a close that names the coupons. Their
-- content stays in the bytes; what a close makes of them is a trial like any other.
CREATE TABLE open_trial (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    unit_id         uuid        NOT NULL,
    -- The crew that welds: the record's, else the one that had the unit.
    crew_id         uuid,
    performed_at    timestamptz NOT NULL,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX open_trial_by_time ON open_trial (organization_id, performed_at, id);

CREATE TABLE open_trial_coupon (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    open_trial_id   uuid        NOT NULL,
    recorded_at     timestamptz NOT NULL,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX open_trial_coupon_by_trial ON open_trial_coupon (organization_id, open_trial_id, recorded_at, id);

CREATE TABLE trial_close (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    open_trial_id   uuid        NOT NULL,
    -- The trial that it made.
    trial_id        uuid        NOT NULL,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX trial_close_by_open_trial ON trial_close (organization_id, open_trial_id, trial_id);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['open_trial', 'open_trial_coupon', 'trial_close'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;

-- Open trials with what became of them: `open`, `closed` by a trial that is not withdrawn, or `retracted`.
CREATE VIEW begun_trial WITH (security_invoker = true) AS
SELECT
    open_trial.*,
    closing.trial_id AS closed_as,
    -- Those withdrawn are not among them.
    (
        SELECT count(*) FROM open_trial_coupon AS coupon
        WHERE
            coupon.organization_id = open_trial.organization_id AND coupon.open_trial_id = open_trial.id
            AND NOT EXISTS (
                SELECT FROM retracted
                WHERE
                    retracted.organization_id = coupon.organization_id AND retracted.record_id = coupon.id
            )
    ) AS coupons,
    CASE
        WHEN closing.trial_id IS NOT NULL THEN 'closed'
        WHEN EXISTS (
            SELECT FROM retracted
            WHERE retracted.organization_id = open_trial.organization_id AND retracted.record_id = open_trial.id
        ) THEN 'retracted'
        ELSE 'open'
    END AS state
FROM open_trial
LEFT JOIN LATERAL (
    -- Of several the one that counts; all but that are superseded.
    SELECT trial_close.trial_id
    FROM trial_close
    WHERE
        trial_close.organization_id = open_trial.organization_id AND trial_close.open_trial_id = open_trial.id
        -- Counted, so that each is looked up: as NOT EXISTS, all that is withdrawn would be read for each.
        AND (
            SELECT count(*) FROM uncounted
            WHERE
                uncounted.organization_id = trial_close.organization_id
                AND uncounted.record_id = trial_close.trial_id AND uncounted.disposition = 'retracted'
        ) = 0
    ORDER BY
        EXISTS (
            SELECT FROM uncounted
            WHERE
                uncounted.organization_id = trial_close.organization_id
                AND uncounted.record_id = trial_close.trial_id
        ),
        trial_close.trial_id
    LIMIT 1
) AS closing ON true;
GRANT SELECT ON begun_trial TO lapwatch_service;
