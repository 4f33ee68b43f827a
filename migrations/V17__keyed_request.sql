-- Requests that their clients may repeat without making a second thing: the key that the client chose (its header
-- Idempotency-Key), what was asked, and the id and time that the thing was given.
CREATE TABLE keyed_request (
    organization_id uuid        NOT NULL,
    -- The person or app that asked: two of them may choose the same key.
    actor_id        uuid        NOT NULL,
    key             text        NOT NULL CHECK (length(key) BETWEEN 1 AND 255),
    -- Keyed digest of address and body. Keyed, because a body may hold a first password.
    digest          bytea       NOT NULL CHECK (length(digest) = 32),
    made_id         uuid        NOT NULL,
    made_at         timestamptz NOT NULL,
    PRIMARY KEY (organization_id, actor_id, key)
);

ALTER TABLE keyed_request ENABLE ROW LEVEL SECURITY;
ALTER TABLE keyed_request FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON keyed_request USING (organization_id = current_organization());
GRANT SELECT, INSERT ON keyed_request TO lapwatch_service;
