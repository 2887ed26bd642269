DROP TABLE idempotency_keys;
DROP TABLE jobs;
DROP TABLE outbox;
DROP TABLE instance;
