-- Derived, never edited: replaced as a whole when the events of a component change.
CREATE TABLE lives (
    component_id  uuid             NOT NULL REFERENCES components (id),
    scale         text             NOT NULL CHECK (scale IN ('flights', 'flight-minutes', 'rotor-krev')),
    part_type_key text             NOT NULL REFERENCES part_types (key),
    owner_id      uuid             NOT NULL REFERENCES owners (id),
    entry         double precision NOT NULL CHECK (entry BETWEEN 0 AND 1e9),
    life          jsonb            NOT NULL,
    PRIMARY KEY (component_id, scale)
);
CREATE INDEX lives_by_population ON lives (part_type_key, scale, component_id);

CREATE TABLE life_exclusions (
    component_id  uuid  NOT NULL REFERENCES components (id),
    scale         text  NOT NULL CHECK (scale IN ('flights', 'flight-minutes', 'rotor-krev')),
    part_type_key text  NOT NULL REFERENCES part_types (key),
    exclusion     jsonb NOT NULL,
    PRIMARY KEY (component_id, scale)
);
CREATE INDEX life_exclusions_by_population ON life_exclusions (part_type_key, scale);

-- A fit is immutable. What it was made from is kept beside it as text, so that it can be replayed bit for bit.
CREATE TABLE fits (
    id             uuid PRIMARY KEY,
    part_type_key  text        NOT NULL REFERENCES part_types (key),
    scale          text        NOT NULL CHECK (scale IN ('flights', 'flight-minutes', 'rotor-krev')),
    engine_version text        NOT NULL,
    data_digest    text        NOT NULL CHECK (length(data_digest) = 64),
    data_as_of     timestamptz NOT NULL,
    inputs         text        NOT NULL,
    report         text        NOT NULL,
    advice         text        NOT NULL,
    created_at     timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX fits_newest ON fits (part_type_key, scale, id DESC);

CREATE FUNCTION refuse_change_of_fit() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'a fit is never changed' USING ERRCODE = 'check_violation', CONSTRAINT = 'fits_immutable';
END
$$;
CREATE TRIGGER fits_immutable BEFORE UPDATE ON fits FOR EACH ROW EXECUTE FUNCTION refuse_change_of_fit();
