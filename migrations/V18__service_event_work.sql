-- One visit may do several things to a unit. `kind` stays the first of them; rows from before have no list.
ALTER TABLE service_event ADD COLUMN work text[] CHECK (work IS NULL OR (cardinality(work) > 0 AND work[1] = kind));
