-- Held items that nobody has settled yet: few among many, so that they are found without a look at all that ever was held. One whose
-- bytes were accepted by another door may stand here until the next look: `held` says what state it is in.
CREATE TABLE custody_open (
    organization_id uuid        NOT NULL,
    custody_id      uuid        NOT NULL,
    -- As in `custody`.
    reason          text        NOT NULL,
    received_at     timestamptz NOT NULL,
    PRIMARY KEY (organization_id, custody_id)
);
CREATE INDEX custody_open_by_time ON custody_open (organization_id, received_at, custody_id);
CREATE INDEX custody_open_by_reason ON custody_open (organization_id, reason, custody_id);
GRANT SELECT, INSERT, DELETE ON custody_open TO lapwatch_service;

-- What is held already, of every organization: for this once their owner sees all.
ALTER TABLE custody NO FORCE ROW LEVEL SECURITY;
ALTER TABLE custody_settlement NO FORCE ROW LEVEL SECURITY;
ALTER TABLE submission NO FORCE ROW LEVEL SECURITY;
INSERT INTO custody_open (organization_id, custody_id, reason, received_at)
SELECT organization_id, id, reason, received_at FROM held WHERE state = 'open';
ALTER TABLE custody FORCE ROW LEVEL SECURITY;
ALTER TABLE custody_settlement FORCE ROW LEVEL SECURITY;
ALTER TABLE submission FORCE ROW LEVEL SECURITY;

ALTER TABLE custody_open ENABLE ROW LEVEL SECURITY;
ALTER TABLE custody_open FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON custody_open USING (organization_id = current_organization());
