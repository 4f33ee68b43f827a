-- What a crew notes in the course of its day.
CREATE TABLE day_event (
    organization_id     uuid        NOT NULL,
    id                  uuid        NOT NULL,
    crew_id             uuid        NOT NULL,
    -- Null: it concerns every unit that the crew has.
    unit_id             uuid,
    happened_at         timestamptz NOT NULL,
    kind                text        NOT NULL,
    sheet_temperature_c double precision,
    wind_m_per_s        double precision,
    membrane_id         uuid,
    lot_id              uuid,
    operator            text,
    remarks             text,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX day_event_by_crew ON day_event (organization_id, crew_id, happened_at);
CREATE INDEX day_event_by_unit ON day_event (organization_id, unit_id, happened_at);

-- What was found when a production span's seams were checked.
CREATE TABLE seam_check (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    span_id         uuid        NOT NULL,
    unit_id         uuid        NOT NULL,
    checked_at      timestamptz NOT NULL,
    method          text        NOT NULL,
    result          text        NOT NULL,
    place           text,
    checked_by      text,
    remarks         text,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX seam_check_by_unit ON seam_check (organization_id, unit_id, checked_at);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['day_event', 'seam_check'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;

-- What more an organization decides about rechecks. The defaults are what held before.
ALTER TABLE policy
    -- Null: as `edge_finding_interval_days`.
    ADD COLUMN least_edge_finding_interval_days smallint,
    ADD COLUMN most_edge_finding_interval_days  smallint,
    ADD COLUMN limit_lead_days                  smallint         NOT NULL DEFAULT 3,
    ADD COLUMN carry_share_percent              double precision NOT NULL DEFAULT 100,
    ADD COLUMN wind_from_m_per_s                double precision NOT NULL DEFAULT 5.5,
    ADD COLUMN operator_checks                  boolean          NOT NULL DEFAULT false,
    ADD COLUMN closed_days                      date[]           NOT NULL DEFAULT '{}';
