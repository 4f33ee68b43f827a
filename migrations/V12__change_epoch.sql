-- Which life of the database the sequence numbers of a change feed belong to. A restored database may give out numbers
-- again that were read before: `lapwatch epoch` then sets another epoch, and no cursor of the old one is followed. It is
-- random, because a count would be restored with the rest.
ALTER TABLE change_counter ADD COLUMN epoch uuid NOT NULL DEFAULT gen_random_uuid();
