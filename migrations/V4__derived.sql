-- What follows from the records. Every row here can be deleted and computed again from the tables before it.

-- One row a unit, made with the unit. Its lock serialises the derivations of the unit.
CREATE TABLE unit_state (
    organization_id uuid             NOT NULL,
    unit_id         uuid             NOT NULL,
    standing        text             NOT NULL,
    standing_since  timestamptz,
    reasons         text[]           NOT NULL,
    last_trial_id   uuid,
    last_trial_at   timestamptz,
    last_outcome    text,
    -- From the last trial that gave a set point.
    set_point_c     double precision,
    margin_below_k  double precision,
    margin_above_k  double precision,
    -- The instant up to which rechecks were scheduled.
    derived_at      timestamptz,
    PRIMARY KEY (organization_id, unit_id)
);

-- The chart of one edge of one unit on one sheet class, as of its last trial.
CREATE TABLE history (
    organization_id  uuid             NOT NULL,
    unit_id          uuid             NOT NULL,
    material_class   text             NOT NULL,
    edge             text             NOT NULL,
    trials           integer          NOT NULL,
    effective_trials double precision NOT NULL,
    level_c          double precision,
    level_sd_k       double precision,
    chart_up         double precision NOT NULL,
    chart_down       double precision NOT NULL,
    chart_limit      double precision NOT NULL,
    learning         boolean          NOT NULL,
    signal_trial_id  uuid,
    PRIMARY KEY (organization_id, unit_id, material_class, edge)
);

CREATE TABLE flag (
    organization_id uuid             NOT NULL,
    id              uuid             NOT NULL,
    unit_id         uuid             NOT NULL,
    kind            text             NOT NULL,
    series          text,
    state           text             NOT NULL,
    severity        text             NOT NULL,
    opened_at       timestamptz      NOT NULL,
    first_trial_id  uuid             NOT NULL,
    onset_from      timestamptz,
    onset_to        timestamptz,
    shift_k         double precision,
    shift_sd_k      double precision,
    sentence        text             NOT NULL,
    causes          jsonb            NOT NULL,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX flag_by_unit ON flag (organization_id, unit_id, opened_at);

CREATE TABLE recheck (
    organization_id uuid             NOT NULL,
    id              uuid             NOT NULL,
    unit_id         uuid             NOT NULL,
    crew_id         uuid,
    reasons         text[]           NOT NULL,
    purpose         text             NOT NULL,
    due_on          date             NOT NULL,
    due_at          timestamptz      NOT NULL,
    state           text             NOT NULL,
    satisfied_by    uuid,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX recheck_by_unit ON recheck (organization_id, unit_id, due_at);
CREATE INDEX recheck_by_due ON recheck (organization_id, due_at, id);

-- The counter of the organization's gap-free change feed: always the last row that a transaction touches.
CREATE TABLE change_counter (
    organization_id uuid   NOT NULL PRIMARY KEY,
    seq             bigint NOT NULL
);

CREATE TABLE change (
    organization_id uuid        NOT NULL,
    seq             bigint      NOT NULL,
    kind            text        NOT NULL,
    subject_id      uuid        NOT NULL,
    changed_at      timestamptz NOT NULL,
    PRIMARY KEY (organization_id, seq)
);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['unit_state', 'history', 'flag', 'recheck', 'change', 'change_counter'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
    END LOOP;
END
$$;

GRANT SELECT, INSERT, UPDATE, DELETE ON unit_state, history, flag, recheck TO lapwatch_service;
GRANT SELECT, INSERT, UPDATE ON change_counter TO lapwatch_service;
GRANT SELECT, INSERT ON change TO lapwatch_service;
