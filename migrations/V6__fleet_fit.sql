-- What an organization's own trials said of the numbers behind bands and charts, as of a moment. Rows are never changed:
-- a later fit stands beside the earlier one, and each trial is judged by the one in force when it was performed.
-- Estimates are arrays of mean, standard deviation, 2.5 % and 97.5 % point.
CREATE TABLE fleet_fit (
    organization_id      uuid               NOT NULL REFERENCES organization,
    id                   uuid               NOT NULL,
    made_at              timestamptz        NOT NULL,
    -- A day later: no trial that was accepted by the time of the fit can have been performed after this.
    effective_from       timestamptz        NOT NULL,
    trials               integer            NOT NULL,
    units                integer            NOT NULL,
    first_trial_at       timestamptz        NOT NULL,
    last_trial_at        timestamptz        NOT NULL,
    -- What informed correlation and scatter.
    search_units         integer            NOT NULL,
    search_trials        integer            NOT NULL,
    search_edges         integer            NOT NULL,
    search_coupons       integer            NOT NULL,
    mixed_coupons        integer            NOT NULL,
    correlation_basis    text               NOT NULL,
    correlation          double precision[] NOT NULL CHECK (cardinality(correlation) = 4),
    scatter_basis        text               NOT NULL,
    -- Median of the scatter; the standard deviation in it is that of its logarithm.
    scatter_k            double precision[] NOT NULL CHECK (cardinality(scatter_k) = 4),
    scatter_ln_spread    double precision[] NOT NULL CHECK (cardinality(scatter_ln_spread) = 4),
    scatter_ln_further   double precision   NOT NULL CHECK (scatter_ln_further > 0),
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX fleet_fit_by_time ON fleet_fit (organization_id, effective_from, id);

-- The heat share of a sheet class.
CREATE TABLE fleet_fit_class (
    organization_id uuid               NOT NULL,
    fit_id          uuid               NOT NULL,
    material_class  text               NOT NULL,
    basis           text               NOT NULL,
    units           integer            NOT NULL,
    identified      integer            NOT NULL,
    heat_share      double precision[] NOT NULL CHECK (cardinality(heat_share) = 4),
    between_units   double precision[] NOT NULL CHECK (cardinality(between_units) = 4),
    predictive_sd   double precision   NOT NULL CHECK (predictive_sd > 0),
    PRIMARY KEY (organization_id, fit_id, material_class),
    FOREIGN KEY (organization_id, fit_id) REFERENCES fleet_fit
);

-- The heat share of a unit on a sheet class.
CREATE TABLE fleet_fit_unit (
    organization_id uuid               NOT NULL,
    fit_id          uuid               NOT NULL,
    material_class  text               NOT NULL,
    unit_id         uuid               NOT NULL,
    trials          integer            NOT NULL,
    identified      boolean            NOT NULL,
    narrowing       double precision   NOT NULL,
    heat_share      double precision[] NOT NULL CHECK (cardinality(heat_share) = 4),
    PRIMARY KEY (organization_id, fit_id, material_class, unit_id),
    FOREIGN KEY (organization_id, fit_id) REFERENCES fleet_fit
);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['fleet_fit', 'fleet_fit_class', 'fleet_fit_unit'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;
