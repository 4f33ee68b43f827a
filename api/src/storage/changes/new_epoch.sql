INSERT INTO change_counter (organization_id, seq) VALUES ($1, 0)
ON CONFLICT (organization_id) DO UPDATE SET epoch = gen_random_uuid()
