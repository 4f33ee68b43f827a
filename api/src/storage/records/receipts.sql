SELECT
    asked.id,
    (SELECT min(seq) FROM change WHERE organization_id = $1 AND subject_id = asked.id) AS seq,
    (
        -- A retraction outweighs a correction.
        SELECT disposition FROM uncounted
        WHERE organization_id = $1 AND record_id = asked.id
        ORDER BY disposition
        LIMIT 1
    ) AS disposition
FROM unnest($2::uuid[]) AS asked (id)
