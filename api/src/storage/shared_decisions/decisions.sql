SELECT id, kind, shift_kind, subject_id, on_date, material_class, decided_at, remark
FROM shared_decision
WHERE
    organization_id = $1 AND decided_at >= $2
    AND shared_decision.id NOT IN (SELECT uncounted.record_id FROM uncounted WHERE uncounted.organization_id = $1)
ORDER BY decided_at, id
