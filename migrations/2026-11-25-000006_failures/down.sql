DROP TRIGGER installations_failures_inside ON installations;
DROP FUNCTION refuse_removal_before_failure();
DROP TABLE failure_reports;
DROP FUNCTION refuse_failure_outside_installation();
