-- One statement moves the counter by the number of entries and inserts them, so that sequence numbers have no gaps and
-- appear in the order of commits.
WITH moved AS (
    UPDATE organization
    SET change_seq = change_seq + cardinality($2::text[])
    WHERE organization_id = $1
    RETURNING change_seq - cardinality($2::text[]) AS before
)
INSERT INTO change (organization_id, seq, kind, subject_id, changed_at)
SELECT $1, moved.before + n, kind, subject_id, $4
FROM moved, unnest($2::text[], $3::uuid[]) WITH ORDINALITY AS subjects (kind, subject_id, n)
