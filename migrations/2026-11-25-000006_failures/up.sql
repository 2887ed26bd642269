CREATE TABLE failure_reports (
    id                 uuid PRIMARY KEY,
    owner_id           uuid        NOT NULL REFERENCES owners (id),
    installation_id    uuid        NOT NULL REFERENCES installations (id),
    component_id       uuid        NOT NULL REFERENCES components (id),
    part_type_key      text        NOT NULL,
    mode_key           text        NOT NULL,
    occurred_at        timestamptz NOT NULL CHECK (isfinite(occurred_at)),
    last_known_good_at timestamptz CHECK (isfinite(last_known_good_at)),
    discovery          text        NOT NULL CHECK (discovery IN ('in-flight', 'found-failed-at-check', 'defect-found-at-check')),
    role               text        NOT NULL CHECK (role IN ('primary', 'secondary')),
    cause              text        NOT NULL CHECK (cause IN ('assembly', 'set-up', 'material', 'design', 'use', 'wear', 'crash', 'unknown')),
    severity           text        NOT NULL CHECK (severity IN ('catastrophic', 'critical', 'marginal', 'negligible')),
    detail             text CHECK (length(detail) <= 4000),
    created_at         timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT failure_reports_mode FOREIGN KEY (part_type_key, mode_key) REFERENCES failure_modes (part_type_key, key),
    CONSTRAINT failure_reports_good_before CHECK (last_known_good_at < occurred_at)
);
CREATE INDEX failure_reports_by_owner ON failure_reports (owner_id, id);
CREATE INDEX failure_reports_by_component ON failure_reports (component_id);

-- A failure lies inside the installation it names; the installation's row is locked against a removal at the same moment.
CREATE FUNCTION refuse_failure_outside_installation() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    fitted record;
BEGIN
    SELECT i.component_id, i.fitted_at, i.removed_at, c.part_type_key INTO fitted
    FROM installations i JOIN components c ON c.id = i.component_id
    WHERE i.id = NEW.installation_id FOR SHARE OF i;
    IF NEW.component_id <> fitted.component_id OR NEW.part_type_key <> fitted.part_type_key THEN
        RAISE EXCEPTION 'failure report and installation name different components'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'failure_reports_component';
    END IF;
    IF NEW.occurred_at < fitted.fitted_at OR NEW.occurred_at > fitted.removed_at THEN
        RAISE EXCEPTION 'failure outside its installation'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'failure_reports_inside_installation';
    END IF;
    RETURN NULL;
END
$$;
CREATE CONSTRAINT TRIGGER failure_reports_inside_installation AFTER INSERT OR UPDATE ON failure_reports
    DEFERRABLE INITIALLY IMMEDIATE FOR EACH ROW EXECUTE FUNCTION refuse_failure_outside_installation();

CREATE FUNCTION refuse_removal_before_failure() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM failure_reports WHERE installation_id = NEW.id AND occurred_at > NEW.removed_at) THEN
        RAISE EXCEPTION 'removal before a failure that was reported'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'failure_reports_inside_installation';
    END IF;
    RETURN NULL;
END
$$;
CREATE CONSTRAINT TRIGGER installations_failures_inside AFTER UPDATE ON installations
    DEFERRABLE INITIALLY IMMEDIATE FOR EACH ROW EXECUTE FUNCTION refuse_removal_before_failure();
