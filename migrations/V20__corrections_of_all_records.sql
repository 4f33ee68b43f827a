-- What a record says of its own writing: the record whose place it takes, and when it was written down.
DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['service_event', 'production_span', 'day_event', 'seam_check', 'second_reading'] LOOP
        EXECUTE format('ALTER TABLE %I ADD COLUMN supersedes uuid, ADD COLUMN recorded_at timestamptz', t);
    END LOOP;
    -- A plan always said when it was written.
    ALTER TABLE day_plan ADD COLUMN supersedes uuid;
END
$$;

-- A check names the span as it stood then; it counts for the span that stands in its place now.
CREATE INDEX seam_check_by_span ON seam_check (organization_id, span_id);
-- Who corrected the same record otherwise, and what was corrected when.
CREATE INDEX correction_by_superseded ON correction (organization_id, supersedes);
