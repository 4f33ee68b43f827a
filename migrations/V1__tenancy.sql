-- Organizations, the people and apps that act in them, and how a caller is found.
--
-- The service logs in as a member of the role `lapwatch_service`, which owns nothing; every tenant table has forced row
-- security on the setting `lapwatch.organization`, which each transaction sets first. Keys start with the organization,
-- so that no key is an oracle across tenants and the whole schema can be distributed by organization.

DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'lapwatch_service') THEN
        CREATE ROLE lapwatch_service NOLOGIN;
    END IF;
EXCEPTION
    -- Roles belong to the cluster: another database's migration may have been faster.
    WHEN duplicate_object OR unique_violation THEN NULL;
    WHEN insufficient_privilege THEN
        RAISE EXCEPTION 'the role lapwatch_service is missing and this login may not create roles'
            USING HINT = 'As a superuser run: CREATE ROLE lapwatch_service NOLOGIN; GRANT lapwatch_service TO <service login>;';
END
$$;

GRANT USAGE ON SCHEMA public TO lapwatch_service;

-- The organization of the running transaction, or NULL: after SET LOCAL ends the setting is '' rather than unset.
CREATE FUNCTION current_organization() RETURNS uuid
    LANGUAGE sql STABLE PARALLEL SAFE
    RETURN nullif(current_setting('lapwatch.organization', true), '')::uuid;

CREATE TABLE organization (
    organization_id uuid        NOT NULL PRIMARY KEY,
    name            text        NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    created_at      timestamptz NOT NULL
);

CREATE TABLE person (
    organization_id uuid        NOT NULL REFERENCES organization,
    id              uuid        NOT NULL,
    sign_in         text        NOT NULL,
    name            text        NOT NULL,
    role            text        NOT NULL,
    crew_id         uuid,
    password_hash   text        NOT NULL,
    created_at      timestamptz NOT NULL,
    disabled_at     timestamptz,
    PRIMARY KEY (organization_id, id),
    UNIQUE (organization_id, sign_in)
);

CREATE TABLE app (
    organization_id uuid        NOT NULL REFERENCES organization,
    id              uuid        NOT NULL,
    name            text        NOT NULL,
    scopes          text[]      NOT NULL,
    crew_id         uuid,
    created_at      timestamptz NOT NULL,
    expires_at      timestamptz NOT NULL,
    revoked_at      timestamptz,
    PRIMARY KEY (organization_id, id)
);

-- Console sessions: only a digest of the cookie's secret is kept.
CREATE TABLE session (
    organization_id uuid        NOT NULL REFERENCES organization,
    secret_digest   bytea       NOT NULL CHECK (length(secret_digest) = 32),
    person_id       uuid        NOT NULL,
    created_at      timestamptz NOT NULL,
    expires_at      timestamptz NOT NULL,
    PRIMARY KEY (organization_id, secret_digest),
    FOREIGN KEY (organization_id, person_id) REFERENCES person
);

-- The one table besides the migration history without row security: which organization a sign-in name belongs to. It
-- holds keyed hashes only, so reading it tells nothing.
CREATE TABLE directory (
    key_hash        bytea       NOT NULL PRIMARY KEY CHECK (length(key_hash) = 32),
    organization_id uuid        NOT NULL,
    subject_id      uuid        NOT NULL
);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['organization', 'person', 'app', 'session'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
    END LOOP;
END
$$;

GRANT SELECT, INSERT, UPDATE ON organization, person, app TO lapwatch_service;
GRANT SELECT, INSERT, DELETE ON session TO lapwatch_service;
GRANT SELECT, INSERT ON directory TO lapwatch_service;
GRANT SELECT ON refinery_schema_history TO lapwatch_service;
