-- What every slice stands on: the outbox, the job queue, remembered answers to retried writes, and this instance's own secrets.
CREATE EXTENSION IF NOT EXISTS btree_gist;

CREATE TABLE instance (
    only_row      boolean PRIMARY KEY DEFAULT true CHECK (only_row),
    cursor_key    bytea   NOT NULL CHECK (octet_length(cursor_key) = 32),
    demo          boolean NOT NULL DEFAULT false,
    created_at    timestamptz NOT NULL DEFAULT now()
);

-- An event row is written in the same transaction as the change it reports.
CREATE TABLE outbox (
    id         bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    event      jsonb       NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE jobs (
    id           bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    kind         text        NOT NULL,
    key          text        NOT NULL CHECK (length(key) <= 200),
    state        text        NOT NULL DEFAULT 'pending' CHECK (state IN ('pending', 'running', 'dead')),
    attempts     integer     NOT NULL DEFAULT 0,
    run_at       timestamptz NOT NULL DEFAULT now(),
    leased_until timestamptz,
    last_error   text,
    created_at   timestamptz NOT NULL DEFAULT now()
);
-- One waiting job per kind and key: a second request for the same work joins the first.
CREATE UNIQUE INDEX jobs_one_pending ON jobs (kind, key) WHERE state = 'pending';
CREATE INDEX jobs_next ON jobs (run_at) WHERE state <> 'dead';

CREATE TABLE idempotency_keys (
    token_id    uuid        NOT NULL,
    key         text        NOT NULL CHECK (length(key) BETWEEN 1 AND 200),
    fingerprint bytea       NOT NULL CHECK (octet_length(fingerprint) = 32),
    status      smallint    NOT NULL CHECK (status BETWEEN 200 AND 299),
    location    text,
    etag        text,
    body        text        NOT NULL,
    created_at  timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (token_id, key)
);

-- 244 bits from the server's strong random source; signs list cursors.
INSERT INTO instance (cursor_key)
VALUES (decode(replace(gen_random_uuid()::text || gen_random_uuid()::text, '-', ''), 'hex'));
