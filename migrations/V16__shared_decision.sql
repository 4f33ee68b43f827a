-- What people decided about shifts that units share: those of a product, a production run, or a day on a site.
CREATE TABLE shared_decision (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    kind            text        NOT NULL,
    shift_kind      text        NOT NULL CHECK (shift_kind IN ('membrane', 'lot', 'day')),
    -- The membrane, the lot, or the site of the day.
    subject_id      uuid        NOT NULL,
    on_date         date        CHECK ((on_date IS NOT NULL) = (shift_kind = 'day')),
    -- Null: on sheets of any class.
    material_class  text,
    decided_at      timestamptz NOT NULL,
    remark          text,
    actor_kind      text        NOT NULL,
    actor_id        uuid        NOT NULL,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX shared_decision_by_time ON shared_decision (organization_id, decided_at, id);

ALTER TABLE shared_decision ENABLE ROW LEVEL SECURITY;
ALTER TABLE shared_decision FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON shared_decision USING (organization_id = current_organization());
GRANT SELECT, INSERT ON shared_decision TO lapwatch_service;
