-- Where other criteria hold than the organization's: on a site, for a membrane, for a way of welding. What is NULL among
-- the conditions does not matter; what is NULL among the criteria stays the organization's.
CREATE TABLE criteria_exception (
    organization_id uuid             NOT NULL REFERENCES organization,
    id              uuid             NOT NULL,
    effective_from  timestamptz      NOT NULL,
    recorded_at     timestamptz      NOT NULL,
    name            text             NOT NULL,
    site_id         uuid,
    membrane_id     uuid,
    weld_method     text,
    bond_width_mm   double precision CHECK (bond_width_mm > 0),
    minimum_strips  smallint         CHECK (minimum_strips BETWEEN 1 AND 20),
    share_limit     double precision CHECK (share_limit > 0 AND share_limit < 0.5),
    cold_weight     double precision CHECK (cold_weight > 0),
    hot_weight      double precision CHECK (hot_weight > 0),
    ceiling_c       double precision,
    retired         boolean          NOT NULL DEFAULT false,
    PRIMARY KEY (organization_id, id, effective_from, recorded_at),
    CHECK (num_nonnulls(site_id, membrane_id, weld_method) > 0)
);

ALTER TABLE criteria_exception ENABLE ROW LEVEL SECURITY;
ALTER TABLE criteria_exception FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON criteria_exception USING (organization_id = current_organization());
GRANT SELECT, INSERT ON criteria_exception TO lapwatch_service;
