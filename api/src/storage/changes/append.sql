-- One statement moves the counter by the number of entries and inserts them, so that sequence numbers have no gaps and
-- appear in the order of commits.
WITH moved AS (
    INSERT INTO change_counter AS counter (organization_id, seq)
    VALUES ($1, cardinality($2::text[]))
    ON CONFLICT (organization_id) DO UPDATE SET seq = counter.seq + excluded.seq
    RETURNING epoch, seq
), added AS (
    INSERT INTO change (organization_id, seq, kind, subject_id, changed_at)
    SELECT $1, moved.seq - cardinality($2::text[]) + n, kind, subject_id, $4
    FROM moved, unnest($2::text[], $3::uuid[]) WITH ORDINALITY AS subjects (kind, subject_id, n)
)
SELECT epoch, seq FROM moved
