SELECT id, kind, shift_kind, subject_id, on_date, material_class, decided_at, remark
FROM shared_decision
WHERE
    organization_id = $1 AND decided_at >= $2
    AND NOT EXISTS (
        SELECT FROM uncounted WHERE uncounted.organization_id = $1 AND uncounted.record_id = shared_decision.id
    )
ORDER BY decided_at, id
