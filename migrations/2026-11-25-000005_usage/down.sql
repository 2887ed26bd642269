DROP TABLE usage_readings;
DROP TABLE flights;
DROP FUNCTION refuse_usage_running_backwards();
