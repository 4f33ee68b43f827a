-- What another person read of a trial's strips. The trial stands as it was read first; this is for training.
CREATE TABLE second_reading (
    organization_id   uuid        NOT NULL,
    id                uuid        NOT NULL,
    trial_id          uuid        NOT NULL,
    -- Who read the trial first, as its bytes say.
    first_read_by     text,
    read_by           text        NOT NULL,
    read_at           timestamptz NOT NULL,
    -- How many strips each coupon has, and all readings in that order; NULL for a strip that was not read.
    strips_per_coupon smallint[]  NOT NULL,
    readings          text[]      NOT NULL,
    remarks           text,
    PRIMARY KEY (organization_id, id)
);
CREATE INDEX second_reading_by_trial ON second_reading (organization_id, trial_id, read_at, id);
CREATE INDEX second_reading_by_time ON second_reading (organization_id, read_at);

ALTER TABLE second_reading ENABLE ROW LEVEL SECURITY;
ALTER TABLE second_reading FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON second_reading USING (organization_id = current_organization());
GRANT SELECT, INSERT ON second_reading TO lapwatch_service;
