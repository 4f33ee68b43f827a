SELECT min(seq) AS seq FROM change WHERE organization_id = $1 AND subject_id = $2
