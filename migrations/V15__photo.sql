-- That a photo belongs to a record. Photos are told of and sent apart: either may come first.
CREATE TABLE photo (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    subject_id      uuid        NOT NULL,
    subject_kind    text        NOT NULL,
    -- Of which coupon of its trial, counted from 1.
    coupon          smallint,
    sha256          bytea       NOT NULL CHECK (length(sha256) = 32),
    taken_at        timestamptz NOT NULL,
    taken_by        text,
    caption         text,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX photo_by_subject ON photo (organization_id, subject_id);
CREATE INDEX photo_by_content ON photo (organization_id, sha256);

-- What is kept in the photo store. The bytes lie there, as they were taken, under their SHA-256.
CREATE TABLE photo_content (
    organization_id uuid        NOT NULL,
    sha256          bytea       NOT NULL CHECK (length(sha256) = 32),
    media_type      text        NOT NULL,
    size_bytes      bigint      NOT NULL CHECK (size_bytes > 0),
    width_px        integer     NOT NULL CHECK (width_px > 0),
    height_px       integer     NOT NULL CHECK (height_px > 0),
    stored_at       timestamptz NOT NULL,
    PRIMARY KEY (organization_id, sha256)
);
CREATE INDEX photo_content_by_time ON photo_content (organization_id, stored_at, sha256);

-- Bytes that arrive in parts. The parts are kept here until they are whole, and go to the photo store then.
CREATE TABLE upload (
    organization_id uuid        NOT NULL,
    id              uuid        NOT NULL,
    sha256          bytea       NOT NULL CHECK (length(sha256) = 32),
    size_bytes      bigint      NOT NULL CHECK (size_bytes > 0),
    received_bytes  bigint      NOT NULL CHECK (received_bytes BETWEEN 0 AND size_bytes),
    -- The crew that the sender acts for.
    crew_id         uuid,
    begun_at        timestamptz NOT NULL,
    latest_at       timestamptz NOT NULL,
    finished_at     timestamptz,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX upload_unfinished ON upload (organization_id, latest_at, id) WHERE finished_at IS NULL;

CREATE TABLE upload_part (
    organization_id uuid   NOT NULL,
    upload_id       uuid   NOT NULL,
    first_byte      bigint NOT NULL,
    bytes           bytea  NOT NULL,
    PRIMARY KEY (organization_id, upload_id, first_byte),
    FOREIGN KEY (organization_id, upload_id) REFERENCES upload ON DELETE CASCADE
);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['photo', 'photo_content', 'upload', 'upload_part'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY tenant ON %I USING (organization_id = current_organization())', t);
        EXECUTE format('GRANT SELECT, INSERT ON %I TO lapwatch_service', t);
    END LOOP;
END
$$;
-- A photo that nothing refers to may be thrown away by a person; parts go once they are whole.
GRANT DELETE ON photo_content, upload, upload_part TO lapwatch_service;
GRANT UPDATE ON upload TO lapwatch_service;
