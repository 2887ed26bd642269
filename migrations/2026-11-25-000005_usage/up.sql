CREATE TABLE flights (
    id               uuid PRIMARY KEY,
    owner_id         uuid             NOT NULL REFERENCES owners (id),
    airframe_id      uuid             NOT NULL REFERENCES airframes (id),
    flown_at         timestamptz      NOT NULL CHECK (isfinite(flown_at)),
    flights          integer          NOT NULL CHECK (flights BETWEEN 1 AND 1000),
    duration_minutes double precision NOT NULL CHECK (duration_minutes > 0 AND duration_minutes <= 100000),
    duration_basis   text             NOT NULL CHECK (duration_basis IN ('logged', 'estimated')),
    head_speed_rpm   double precision CHECK (head_speed_rpm BETWEEN 100 AND 10000),
    hard_share       double precision CHECK (hard_share BETWEEN 0 AND 1),
    note             text CHECK (length(note) <= 2000),
    created_at       timestamptz      NOT NULL DEFAULT now()
);
CREATE INDEX flights_by_owner ON flights (owner_id, id);
CREATE INDEX flights_by_airframe ON flights (airframe_id, flown_at);

-- A reading states the airframe's usage at one moment: a counter, or the history it came with.
CREATE TABLE usage_readings (
    id             uuid PRIMARY KEY,
    owner_id       uuid             NOT NULL REFERENCES owners (id),
    airframe_id    uuid             NOT NULL REFERENCES airframes (id),
    read_at        timestamptz      NOT NULL CHECK (isfinite(read_at)),
    flights        double precision NOT NULL CHECK (flights BETWEEN 0 AND 1e9),
    flight_minutes double precision CHECK (flight_minutes BETWEEN 0 AND 1e9),
    rotor_krev     double precision CHECK (rotor_krev BETWEEN 0 AND 1e9),
    note           text CHECK (length(note) <= 2000),
    created_at     timestamptz      NOT NULL DEFAULT now(),
    CONSTRAINT usage_readings_moment UNIQUE (airframe_id, read_at)
);
CREATE INDEX usage_readings_by_owner ON usage_readings (owner_id, id);

-- Usage never runs backwards: from one reading to the next the counter grows by at least what was logged between them.
-- The airframe's row is locked first, so that two writers cannot each be right alone and wrong together. The lock leaves
-- keys alone: both writers hold the row already, each for its foreign key, and would wait for each other for ever.
CREATE FUNCTION refuse_usage_running_backwards() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    broken record;
BEGIN
    PERFORM 1 FROM airframes WHERE id = NEW.airframe_id FOR NO KEY UPDATE;
    IF NOT EXISTS (SELECT 1 FROM usage_readings WHERE airframe_id = NEW.airframe_id) THEN
        RETURN NULL;
    END IF;
    WITH moments AS (
        SELECT id, read_at, flights, flight_minutes,
               lag(read_at) OVER w AS since,
               coalesce(lag(flights) OVER w, 0) AS flights_before,
               CASE WHEN lag(read_at) OVER w IS NULL THEN 0 ELSE lag(flight_minutes) OVER w END AS minutes_before
        FROM usage_readings
        WHERE airframe_id = NEW.airframe_id
        WINDOW w AS (ORDER BY read_at)
    ), spans AS (
        SELECT m.*, coalesce(sum(f.flights), 0) AS logged_flights,
               coalesce(sum(f.duration_minutes), 0) AS logged_minutes
        FROM moments m
        LEFT JOIN flights f ON f.airframe_id = NEW.airframe_id
             AND f.flown_at <= m.read_at AND (m.since IS NULL OR f.flown_at > m.since)
        GROUP BY m.id, m.read_at, m.flights, m.flight_minutes, m.since, m.flights_before, m.minutes_before
    )
    SELECT * INTO broken FROM spans
    WHERE flights < flights_before + logged_flights
       OR flight_minutes < minutes_before + logged_minutes - 1e-6 * (1 + logged_minutes)
    LIMIT 1;
    IF FOUND THEN
        RAISE EXCEPTION 'usage runs backwards at reading %', broken.id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'usage_runs_backwards',
                  DETAIL = format('%s', broken.id);
    END IF;
    RETURN NULL;
END
$$;

CREATE CONSTRAINT TRIGGER flights_usage_order AFTER INSERT OR UPDATE ON flights
    DEFERRABLE INITIALLY IMMEDIATE FOR EACH ROW EXECUTE FUNCTION refuse_usage_running_backwards();
CREATE CONSTRAINT TRIGGER usage_readings_usage_order AFTER INSERT OR UPDATE ON usage_readings
    DEFERRABLE INITIALLY IMMEDIATE FOR EACH ROW EXECUTE FUNCTION refuse_usage_running_backwards();
