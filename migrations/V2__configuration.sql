-- Configuration: each row is one version of a subject, in force from effective_from until the subject's next version.
-- A trial is judged by the versions in force when it was performed. Rows are only ever added; retiring is a version too.

CREATE TABLE site (
    organization_id uuid             NOT NULL REFERENCES organization,
    id              uuid             NOT NULL,
    effective_from  timestamptz      NOT NULL,
    recorded_at     timestamptz      NOT NULL,
    name            text             NOT NULL,
    time_zone       text             NOT NULL,
    latitude_deg    double precision CHECK (latitude_deg BETWEEN -90 AND 90),
    longitude_deg   double precision CHECK (longitude_deg BETWEEN -180 AND 180),
    retired         boolean          NOT NULL DEFAULT false,
    PRIMARY KEY (organization_id, id, effective_from, recorded_at)
);

CREATE TABLE crew (
    organization_id  uuid        NOT NULL REFERENCES organization,
    id               uuid        NOT NULL,
    effective_from   timestamptz NOT NULL,
    recorded_at      timestamptz NOT NULL,
    name             text        NOT NULL,
    site_id          uuid        NOT NULL,
    temperature_unit text        NOT NULL,
    speed_unit       text        NOT NULL,
    retired          boolean     NOT NULL DEFAULT false,
    PRIMARY KEY (organization_id, id, effective_from, recorded_at)
);

CREATE TABLE membrane (
    organization_id uuid             NOT NULL REFERENCES organization,
    id              uuid             NOT NULL,
    effective_from  timestamptz      NOT NULL,
    recorded_at     timestamptz      NOT NULL,
    name            text             NOT NULL,
    material_class  text             NOT NULL,
    thickness_mm    double precision NOT NULL CHECK (thickness_mm > 0),
    reinforced      boolean          NOT NULL,
    maker_ceiling_c double precision,
    retired         boolean          NOT NULL DEFAULT false,
    PRIMARY KEY (organization_id, id, effective_from, recorded_at)
);

CREATE TABLE lot (
    organization_id uuid        NOT NULL REFERENCES organization,
    id              uuid        NOT NULL,
    effective_from  timestamptz NOT NULL,
    recorded_at     timestamptz NOT NULL,
    membrane_id     uuid        NOT NULL,
    code            text        NOT NULL,
    produced_on     date,
    retired         boolean     NOT NULL DEFAULT false,
    PRIMARY KEY (organization_id, id, effective_from, recorded_at)
);

-- What a unit is and which crew has it. The row of unit_state below is its identity and its lock.
CREATE TABLE unit (
    organization_id           uuid             NOT NULL REFERENCES organization,
    id                        uuid             NOT NULL,
    effective_from            timestamptz      NOT NULL,
    recorded_at               timestamptz      NOT NULL,
    serial                    text             NOT NULL,
    label                     text             NOT NULL,
    crew_id                   uuid,
    weld_method               text             NOT NULL,
    rated_voltage_v           double precision NOT NULL CHECK (rated_voltage_v > 0),
    rated_power_w             double precision NOT NULL CHECK (rated_power_w > 0),
    maximum_set_temperature_c double precision NOT NULL,
    display_step_k            double precision NOT NULL CHECK (display_step_k > 0),
    nozzle_width_mm           double precision NOT NULL CHECK (nozzle_width_mm > 0),
    heated_length_mm          double precision NOT NULL CHECK (heated_length_mm > 0),
    retired                   boolean          NOT NULL DEFAULT false,
    PRIMARY KEY (organization_id, id, effective_from, recorded_at)
);

-- Acceptance criteria and advice limits of the organization.
CREATE TABLE criteria (
    organization_id        uuid             NOT NULL REFERENCES organization,
    effective_from         timestamptz      NOT NULL,
    recorded_at            timestamptz      NOT NULL,
    bond_width_automatic_mm double precision NOT NULL CHECK (bond_width_automatic_mm > 0),
    bond_width_hand_mm     double precision NOT NULL CHECK (bond_width_hand_mm > 0),
    minimum_strips         smallint         NOT NULL CHECK (minimum_strips BETWEEN 1 AND 20),
    share_limit            double precision NOT NULL CHECK (share_limit > 0 AND share_limit < 0.5),
    cold_weight            double precision NOT NULL CHECK (cold_weight > 0),
    hot_weight             double precision NOT NULL CHECK (hot_weight > 0),
    ceiling_c              double precision,
    PRIMARY KEY (organization_id, effective_from, recorded_at)
);

-- When a daily trial is due and how often an edge-finding one.
CREATE TABLE policy (
    organization_id            uuid        NOT NULL REFERENCES organization,
    effective_from             timestamptz NOT NULL,
    recorded_at                timestamptz NOT NULL,
    working_days               smallint[]  NOT NULL,
    shift_start                time        NOT NULL,
    trial_due_after_min        smallint    NOT NULL CHECK (trial_due_after_min BETWEEN 0 AND 720),
    in_use_days                smallint    NOT NULL CHECK (in_use_days BETWEEN 1 AND 60),
    edge_finding_interval_days smallint    NOT NULL CHECK (edge_finding_interval_days BETWEEN 1 AND 365),
    promise_arl_trials         double precision NOT NULL CHECK (promise_arl_trials BETWEEN 20 AND 100000),
    PRIMARY KEY (organization_id, effective_from, recorded_at)
);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['site', 'crew', 'membrane', 'lot', 'unit', 'criteria', 'policy'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;
