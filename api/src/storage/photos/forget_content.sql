DELETE FROM photo_content WHERE organization_id = $1 AND sha256 = $2
