DELETE FROM custody_open WHERE organization_id = $1 AND custody_id = $2
