-- When a drift that costs margin has used up that of the working set point. Null where nothing can be said of it.
ALTER TABLE flag
    -- `not_approaching`, `too_early`, `reached` or `between`; the times only for the last.
    ADD COLUMN limit_state    text,
    ADD COLUMN limit_earliest timestamptz,
    ADD COLUMN limit_middle   timestamptz,
    ADD COLUMN limit_latest   timestamptz;
