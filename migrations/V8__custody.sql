-- Items that arrived by the custody door and could not be accepted, kept byte for byte until a person or a resolving record
-- settles them. An item whose bytes are accepted later stands in `submission` under the same digest.
CREATE TABLE custody (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    digest          bytea       NOT NULL CHECK (length(digest) = 32),
    bytes           bytea       COMPRESSION lz4 NOT NULL,
    -- `quarantined`, or `conflict`: its id was accepted with other content.
    held_as         text        NOT NULL,
    -- Why, and every broken rule as JSON (text cannot hold what a finding may quote).
    reason          text        NOT NULL,
    findings        bytea       NOT NULL,
    -- What it claims to be, where that could be read.
    schema          text,
    record_id       uuid,
    received_at     timestamptz NOT NULL,
    actor_kind      text        NOT NULL,
    actor_id        uuid        NOT NULL,
    -- The crew that the sender acts for.
    crew_id         uuid,
    PRIMARY KEY (organization_id, id)
);
CREATE UNIQUE INDEX custody_by_digest ON custody (organization_id, digest);
CREATE INDEX custody_by_time ON custody (organization_id, received_at, id);

-- What a person did about one of them: once, for ever.
CREATE TABLE custody_settlement (
    organization_id uuid        NOT NULL,
    custody_id      uuid        NOT NULL,
    -- `released` or `discarded`.
    outcome         text        NOT NULL,
    reason          text,
    -- The JSON Patch (RFC 6902) that corrected it, and the record it became.
    patch           bytea,
    record_id       uuid,
    settled_at      timestamptz NOT NULL,
    actor_kind      text        NOT NULL,
    actor_id        uuid        NOT NULL,
    PRIMARY KEY (organization_id, custody_id)
);

CREATE INDEX submission_by_digest ON submission (organization_id, digest);
CREATE INDEX change_by_subject ON change (organization_id, subject_id, seq);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['custody', 'custody_settlement'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;

-- Held items with what became of them: `state` is `open`, `accepted` (released, or the same bytes were accepted since) or
-- `discarded`.
CREATE VIEW held WITH (security_invoker = true) AS
SELECT
    custody.*,
    length(custody.bytes) AS size,
    settlement.outcome,
    settlement.reason AS settled_because,
    settlement.patch,
    settlement.record_id AS released_as,
    settlement.settled_at,
    settlement.actor_kind AS settled_by_kind,
    settlement.actor_id AS settled_by_id,
    CASE
        WHEN settlement.outcome = 'discarded' THEN 'discarded'
        WHEN settlement.outcome = 'released' OR EXISTS (
            SELECT FROM submission
            WHERE
                submission.organization_id = custody.organization_id
                AND submission.digest = custody.digest
                AND submission.disposition = 'accepted'
        ) THEN 'accepted'
        ELSE 'open'
    END AS state
FROM custody
LEFT JOIN custody_settlement AS settlement
    ON settlement.organization_id = custody.organization_id AND settlement.custody_id = custody.id;
GRANT SELECT ON held TO lapwatch_service;
