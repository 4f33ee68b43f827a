INSERT INTO site (
    organization_id, id, effective_from, recorded_at, retired, name, time_zone, latitude_deg,
    longitude_deg
)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
