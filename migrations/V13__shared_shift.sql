-- What the units of a fleet share, as of a moment: how far a sheet product, a production run or a day on a site moves the
-- edges of all welders that meet it. Rows are never changed; a later fit stands beside the earlier one, and charts
-- take off what the latest says.
CREATE TABLE shared_fit (
    organization_id   uuid               NOT NULL REFERENCES organization,
    id                uuid               NOT NULL,
    made_at           timestamptz        NOT NULL,
    trials            integer            NOT NULL,
    units             integer            NOT NULL,
    first_trial_at    timestamptz        NOT NULL,
    last_trial_at     timestamptz        NOT NULL,
    -- How much an edge varies from trial to trial: the value, 2.5 % and 97.5 % point.
    noise_basis       text               NOT NULL,
    noise_differences integer            NOT NULL,
    noise_k           double precision[] NOT NULL CHECK (cardinality(noise_k) = 3),
    -- Of products, runs and days: shifts that enough units inform, and the standard deviation of the ordinary ones.
    informed          integer[]          NOT NULL CHECK (cardinality(informed) = 3),
    ordinary_k        double precision[] NOT NULL CHECK (cardinality(ordinary_k) = 3),
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX shared_fit_by_time ON shared_fit (organization_id, made_at, id);

-- One shift. Estimates are arrays of mean, standard deviation, 2.5 % and 97.5 % point; NULL where it is left at zero.
CREATE TABLE shared_shift (
    organization_id uuid               NOT NULL,
    fit_id          uuid               NOT NULL,
    ordinal         integer            NOT NULL,
    material_class  text               NOT NULL,
    kind            text               NOT NULL CHECK (kind IN ('membrane', 'lot', 'day')),
    -- The membrane, the lot, or the site of the day.
    subject_id      uuid               NOT NULL,
    on_date         date               CHECK ((on_date IS NOT NULL) = (kind = 'day')),
    -- The day there.
    starts_at       timestamptz        CHECK ((starts_at IS NOT NULL) = (kind = 'day')),
    ends_at         timestamptz        CHECK ((ends_at IS NOT NULL) = (kind = 'day')),
    units           integer            NOT NULL,
    trials          integer            NOT NULL,
    latest_at       timestamptz        NOT NULL,
    -- Units that inform the lower and the upper edge.
    informing       integer[]          NOT NULL CHECK (cardinality(informing) = 2),
    lower_k         double precision[] CHECK (cardinality(lower_k) = 4),
    upper_k         double precision[] CHECK (cardinality(upper_k) = 4),
    PRIMARY KEY (organization_id, fit_id, ordinal),
    FOREIGN KEY (organization_id, fit_id) REFERENCES shared_fit
);
CREATE INDEX shared_shift_by_subject ON shared_shift (organization_id, fit_id, subject_id);

-- The same without what a unit's own trials say: what its own charts take off. Zero where too little is known. Kept for the
-- fits of the last weeks: older ones are no longer charted by.
CREATE TABLE shared_shift_own (
    organization_id uuid             NOT NULL,
    fit_id          uuid             NOT NULL,
    unit_id         uuid             NOT NULL,
    ordinal         integer          NOT NULL,
    lower_k         double precision NOT NULL,
    lower_sd_k      double precision NOT NULL,
    upper_k         double precision NOT NULL,
    upper_sd_k      double precision NOT NULL,
    PRIMARY KEY (organization_id, fit_id, unit_id, ordinal),
    FOREIGN KEY (organization_id, fit_id, ordinal) REFERENCES shared_shift
);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['shared_fit', 'shared_shift', 'shared_shift_own'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;
GRANT DELETE ON shared_shift_own TO lapwatch_service;
