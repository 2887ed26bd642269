CREATE TABLE airframes (
    id                   uuid PRIMARY KEY,
    owner_id             uuid        NOT NULL REFERENCES owners (id),
    design_id            uuid        NOT NULL REFERENCES aircraft_designs (id),
    name                 text        NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    usual_head_speed_rpm double precision CHECK (usual_head_speed_rpm BETWEEN 100 AND 10000),
    note                 text CHECK (length(note) <= 2000),
    created_at           timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX airframes_by_owner ON airframes (owner_id, id);

CREATE TABLE components (
    id            uuid PRIMARY KEY,
    owner_id      uuid        NOT NULL REFERENCES owners (id),
    part_type_key text        NOT NULL REFERENCES part_types (key),
    part_number   text CHECK (length(part_number) BETWEEN 1 AND 80),
    serial        text CHECK (length(serial) BETWEEN 1 AND 80),
    lot           text CHECK (length(lot) BETWEEN 1 AND 80),
    note          text CHECK (length(note) <= 2000),
    created_at    timestamptz NOT NULL DEFAULT now()
);
CREATE INDEX components_by_owner ON components (owner_id, id);
CREATE INDEX components_by_part_type ON components (part_type_key);

-- Times bound an installation; its usage follows from the airframe's flights and readings, so a late entry moves it too.
CREATE TABLE installations (
    id                 uuid PRIMARY KEY,
    owner_id           uuid        NOT NULL REFERENCES owners (id),
    component_id       uuid        NOT NULL REFERENCES components (id),
    airframe_id        uuid        NOT NULL REFERENCES airframes (id),
    position_id        uuid        NOT NULL REFERENCES positions (id),
    fitted_at          timestamptz NOT NULL CHECK (isfinite(fitted_at)),
    age_basis          text        NOT NULL CHECK (age_basis IN ('new', 'known', 'unknown', 'carried-on')),
    age_flights        double precision CHECK (age_flights BETWEEN 0 AND 1e9),
    age_flight_minutes double precision CHECK (age_flight_minutes BETWEEN 0 AND 1e9),
    age_rotor_krev     double precision CHECK (age_rotor_krev BETWEEN 0 AND 1e9),
    removed_at         timestamptz CHECK (isfinite(removed_at)),
    created_at         timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT installations_removed_after_fitted CHECK (removed_at > fitted_at),
    CONSTRAINT installations_known_age CHECK (
        (age_basis = 'known') = (age_flights IS NOT NULL)
        AND (age_basis = 'known' OR (age_flight_minutes IS NULL AND age_rotor_krev IS NULL))
    ),
    CONSTRAINT installations_component_overlap
        EXCLUDE USING gist (component_id WITH =, tstzrange(fitted_at, removed_at) WITH &&),
    CONSTRAINT installations_position_overlap
        EXCLUDE USING gist (airframe_id WITH =, position_id WITH =, tstzrange(fitted_at, removed_at) WITH &&)
);
CREATE INDEX installations_by_owner ON installations (owner_id, id);
CREATE INDEX installations_by_component ON installations (component_id, fitted_at);
CREATE INDEX installations_by_airframe ON installations (airframe_id);

CREATE TABLE removals (
    id              uuid PRIMARY KEY,
    owner_id        uuid        NOT NULL REFERENCES owners (id),
    installation_id uuid        NOT NULL REFERENCES installations (id),
    removed_at      timestamptz NOT NULL CHECK (isfinite(removed_at)),
    reason          text        NOT NULL CHECK (reason IN ('failed', 'defect-found', 'planned-renewal', 'upgrade',
        'precaution', 'notice-action', 'crash-damage', 'secondary-damage', 'sold', 'write-off', 'moved', 'unknown')),
    note            text CHECK (length(note) <= 2000),
    created_at      timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT removals_once UNIQUE (installation_id)
);
CREATE INDEX removals_by_owner ON removals (owner_id, id);
