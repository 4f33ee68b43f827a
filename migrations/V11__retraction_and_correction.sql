-- A record that withdraws another. What it withdraws stays as it is; it only no longer counts.
CREATE TABLE retraction (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    record_id       uuid        NOT NULL,
    record_kind     text        NOT NULL,
    retracted_at    timestamptz NOT NULL,
    reason          text        NOT NULL,
    actor_kind      text        NOT NULL,
    actor_id        uuid        NOT NULL,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX retraction_by_record ON retraction (organization_id, record_id);

-- A record that takes the place of another. All corrections of one record, and of its corrections, have the same root.
CREATE TABLE correction (
    organization_id uuid        NOT NULL,
    record_id       uuid        NOT NULL,
    supersedes      uuid        NOT NULL,
    root_id         uuid        NOT NULL,
    -- As written in the record itself: of several corrections the latest by (recorded_at, record_id) counts.
    recorded_at     timestamptz NOT NULL,
    PRIMARY KEY (organization_id, record_id)
);
CREATE INDEX correction_by_root ON correction (organization_id, root_id, recorded_at, record_id);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['retraction', 'correction'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;

-- Records that are withdrawn, by a retraction that is not withdrawn itself.
CREATE VIEW retracted WITH (security_invoker = true) AS
SELECT retraction.organization_id, retraction.record_id
FROM retraction
WHERE NOT EXISTS (
    SELECT FROM retraction AS withdrawn
    WHERE withdrawn.organization_id = retraction.organization_id AND withdrawn.record_id = retraction.id
);
GRANT SELECT ON retracted TO lapwatch_service;

-- Records that do not count, and why: `retracted`, themselves or with the root of their chain; `superseded` by a correction that
-- is not retracted.
CREATE VIEW uncounted WITH (security_invoker = true) AS
SELECT retracted.organization_id, retracted.record_id, 'retracted' AS disposition
FROM retracted
UNION ALL
SELECT correction.organization_id, correction.record_id, 'retracted'
FROM correction
JOIN retracted
    ON retracted.organization_id = correction.organization_id AND retracted.record_id = correction.root_id
UNION ALL
SELECT correction.organization_id, correction.root_id, 'superseded'
FROM correction
WHERE NOT EXISTS (
    SELECT FROM retracted
    WHERE retracted.organization_id = correction.organization_id AND retracted.record_id = correction.record_id
)
UNION ALL
SELECT correction.organization_id, correction.record_id, 'superseded'
FROM correction
JOIN correction AS later
    ON later.organization_id = correction.organization_id
    AND later.root_id = correction.root_id
    AND (later.recorded_at, later.record_id) > (correction.recorded_at, correction.record_id)
WHERE NOT EXISTS (
    SELECT FROM retracted
    WHERE retracted.organization_id = later.organization_id AND retracted.record_id = later.record_id
);
GRANT SELECT ON uncounted TO lapwatch_service;
