-- How fast the fleet's welders fade, as its charts have seen it. Fits from before tell nothing of it.
ALTER TABLE fleet_fit
    ADD COLUMN fade_basis text,
    ADD COLUMN fade_units integer,
    ADD COLUMN fade_count integer,
    -- Median over fades of the change in a day, K: mean, standard deviation, 2.5 % and 97.5 % point.
    ADD COLUMN fade_k_per_day double precision[] CHECK (cardinality(fade_k_per_day) = 4),
    -- What is assumed of a further fade: mean and standard deviation of the logarithm of the change in a day, K.
    ADD COLUMN fade_ln_rate double precision[] CHECK (cardinality(fade_ln_rate) = 2);
