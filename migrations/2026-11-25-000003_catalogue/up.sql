-- Part types and their failure modes come from the embedded catalogue; the rows here let other tables refer to them.
CREATE TABLE part_types (
    key  text PRIMARY KEY CHECK (key ~ '^[a-z0-9]+(-[a-z0-9]+)*$' AND length(key) <= 60),
    name text NOT NULL
);

CREATE TABLE failure_modes (
    part_type_key text NOT NULL REFERENCES part_types (key),
    key           text NOT NULL CHECK (key ~ '^[a-z0-9]+(-[a-z0-9]+)*$' AND length(key) <= 60),
    name          text NOT NULL,
    PRIMARY KEY (part_type_key, key)
);

CREATE TABLE aircraft_designs (
    id             uuid PRIMARY KEY,
    key            text        NOT NULL CHECK (key ~ '^[a-z0-9]+(-[a-z0-9]+)*$' AND length(key) <= 60),
    name           text        NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    rotor_class_mm double precision CHECK (rotor_class_mm BETWEEN 100 AND 3000),
    drive          text CHECK (drive IN ('gear', 'belt', 'direct')),
    invented       boolean     NOT NULL DEFAULT false,
    created_at     timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT aircraft_designs_key UNIQUE (key)
);

CREATE TABLE positions (
    id            uuid PRIMARY KEY,
    design_id     uuid NOT NULL REFERENCES aircraft_designs (id),
    key           text NOT NULL CHECK (key ~ '^[a-z0-9]+(-[a-z0-9]+)*$' AND length(key) <= 60),
    name          text NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    part_type_key text NOT NULL REFERENCES part_types (key),
    CONSTRAINT positions_key UNIQUE (design_id, key)
);
