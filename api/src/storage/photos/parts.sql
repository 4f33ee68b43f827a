SELECT bytes FROM upload_part WHERE organization_id = $1 AND upload_id = $2 ORDER BY first_byte
