INSERT INTO upload_part (organization_id, upload_id, first_byte, bytes) VALUES ($1, $2, $3, $4)
