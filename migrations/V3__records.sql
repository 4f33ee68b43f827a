-- What was received. Everything here is append-only: the service may insert and read, never change.
--
-- These tables have no foreign key to the organization: a transaction writes as somebody whom it has just found in the
-- organization, and a key check would lock the organization's one row in every transaction.

-- Received bytes, kept once and for ever, before anything interprets them.
CREATE TABLE submission (
    organization_id uuid        NOT NULL,
    record_id       uuid        NOT NULL,
    digest          bytea       NOT NULL CHECK (length(digest) = 32),
    kind            text        NOT NULL,
    bytes           bytea       COMPRESSION lz4 NOT NULL,
    received_at     timestamptz NOT NULL,
    -- Who sent it: an app or a person.
    actor_kind      text        NOT NULL,
    actor_id        uuid        NOT NULL,
    disposition     text        NOT NULL,
    PRIMARY KEY (organization_id, record_id, digest)
);
-- One accepted content per record id: a second one is a conflict, whatever the race.
CREATE UNIQUE INDEX submission_accepted ON submission (organization_id, record_id) WHERE disposition = 'accepted';

CREATE TABLE trial (
    organization_id         uuid             NOT NULL,
    id                      uuid             NOT NULL,
    unit_id                 uuid             NOT NULL,
    crew_id                 uuid,
    site_id                 uuid,
    -- The sheet class whose history this trial informs.
    material_class          text             NOT NULL,
    purpose                 text             NOT NULL,
    performed_at            timestamptz      NOT NULL,
    -- performed_at corrected by the clock offset written inside the record: what histories are ordered by.
    ordered_at              timestamptz      NOT NULL,
    -- Set once, at first receipt: ordered_at lay more than a day ahead. Kept, but out of derived state.
    ahead_of_clock          boolean          NOT NULL,
    upper_membrane_id       uuid             NOT NULL,
    upper_lot_id            uuid,
    lower_membrane_id       uuid             NOT NULL,
    lower_lot_id            uuid,
    speed_set_m_per_min     double precision NOT NULL,
    speed_timed_m_per_min   double precision,
    sheet_temperature_c     double precision,
    air_temperature_c       double precision,
    humidity_percent        double precision,
    wind_m_per_s            double precision,
    voltage_idle_v          double precision,
    voltage_loaded_v        double precision,
    -- The judgement at first acceptance, for lists; the full answer is computed from the bytes.
    outcome                 text             NOT NULL,
    grade                   text             NOT NULL,
    edge_finding            boolean          NOT NULL,
    band_low_c              double precision,
    band_high_c             double precision,
    set_point_c             double precision,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX trial_by_unit ON trial (organization_id, unit_id, ordered_at, id);
CREATE INDEX trial_by_time ON trial (organization_id, performed_at, id);

-- Children carry no foreign key: one transaction writes a trial whole, and the keys cost a third of the ingest rate.
CREATE TABLE coupon (
    organization_id        uuid             NOT NULL,
    trial_id               uuid             NOT NULL,
    ordinal                smallint         NOT NULL,
    set_temperature_c      double precision NOT NULL,
    measured_temperature_c double precision,
    cold                   smallint         NOT NULL,
    sound                  smallint         NOT NULL,
    hot                    smallint         NOT NULL,
    other                  smallint         NOT NULL,
    PRIMARY KEY (organization_id, trial_id, ordinal)
);

CREATE TABLE specimen (
    organization_id uuid             NOT NULL,
    trial_id        uuid             NOT NULL,
    coupon_ordinal  smallint         NOT NULL,
    ordinal         smallint         NOT NULL,
    reading         text             NOT NULL,
    reasons         text[]           NOT NULL,
    bonded_width_mm double precision,
    peak_force_n    double precision,
    plateau_force_n double precision,
    PRIMARY KEY (organization_id, trial_id, coupon_ordinal, ordinal)
);

-- The stand-alone evidence of one trial on one edge: all that histories, charts and fits ever see of it.
CREATE TABLE evidence (
    organization_id uuid             NOT NULL,
    trial_id        uuid             NOT NULL,
    -- The trial's unit: its whole evidence is read by one index, without a join.
    unit_id         uuid             NOT NULL,
    edge            text             NOT NULL,
    class           text             NOT NULL,
    mean_c          double precision,
    sd_k            double precision,
    low_c           double precision,
    median_c        double precision,
    high_c          double precision,
    -- ln of the likelihood of the edge on the fixed grid of the calculation core, little-endian f32.
    profile         bytea            NOT NULL,
    PRIMARY KEY (organization_id, trial_id, edge)
);
CREATE INDEX evidence_by_unit ON evidence (organization_id, unit_id);

CREATE TABLE service_event (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    unit_id         uuid        NOT NULL,
    performed_at    timestamptz NOT NULL,
    kind            text        NOT NULL,
    affects_heat    boolean     NOT NULL,
    parts           text[]      NOT NULL,
    performed_by    text,
    remarks         text,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX service_event_by_unit ON service_event (organization_id, unit_id, performed_at);

CREATE TABLE day_plan (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    crew_id         uuid        NOT NULL,
    date            date        NOT NULL,
    welding         boolean     NOT NULL,
    unit_ids        uuid[]      NOT NULL,
    reason          text,
    recorded_at     timestamptz NOT NULL,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX day_plan_by_crew ON day_plan (organization_id, crew_id, date);

CREATE TABLE production_span (
    organization_id     uuid             NOT NULL,
    id                  uuid             NOT NULL,
    unit_id             uuid             NOT NULL,
    crew_id             uuid,
    started_at          timestamptz      NOT NULL,
    ended_at            timestamptz      NOT NULL,
    place               text             NOT NULL,
    membrane_id         uuid,
    lot_id              uuid,
    set_temperature_c   double precision,
    speed_m_per_min     double precision,
    length_m            double precision,
    PRIMARY KEY (organization_id, id),
    CHECK (ended_at >= started_at)
);
CREATE INDEX production_span_by_unit ON production_span (organization_id, unit_id, ended_at);

CREATE TABLE decision (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    kind            text        NOT NULL,
    unit_id         uuid        NOT NULL,
    series          text,
    concern         text,
    decided_at      timestamptz NOT NULL,
    seen_id         uuid,
    remark          text,
    actor_kind      text        NOT NULL,
    actor_id        uuid        NOT NULL,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX decision_by_unit ON decision (organization_id, unit_id, decided_at);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['submission', 'trial', 'coupon', 'specimen', 'evidence', 'service_event', 'day_plan',
                             'production_span', 'decision'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;
