-- Accounts and organisations share one id space, so that every record has exactly one owner column.
CREATE TABLE owners (
    id   uuid PRIMARY KEY,
    kind text NOT NULL CHECK (kind IN ('account', 'organisation'))
);

CREATE TABLE organisations (
    id         uuid PRIMARY KEY REFERENCES owners (id),
    kind       text        NOT NULL CHECK (kind IN ('club', 'shop', 'distributor')),
    name       text        NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    created_at timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE accounts (
    id           uuid PRIMARY KEY REFERENCES owners (id),
    display_name text        NOT NULL CHECK (length(display_name) BETWEEN 1 AND 120),
    created_at   timestamptz NOT NULL DEFAULT now()
);

CREATE TABLE memberships (
    organisation_id uuid        NOT NULL REFERENCES organisations (id),
    account_id      uuid        NOT NULL REFERENCES accounts (id),
    created_at      timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (organisation_id, account_id)
);
CREATE INDEX memberships_by_account ON memberships (account_id);

-- Only the digest of a token is kept: the token itself is shown once, when it is made.
CREATE TABLE api_tokens (
    id            uuid PRIMARY KEY,
    account_id    uuid        NOT NULL REFERENCES accounts (id),
    name          text        NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    secret_sha256 bytea       NOT NULL CHECK (octet_length(secret_sha256) = 32),
    scopes        text[]      NOT NULL CHECK (cardinality(scopes) BETWEEN 1 AND 10),
    created_at    timestamptz NOT NULL DEFAULT now(),
    expires_at    timestamptz NOT NULL CHECK (isfinite(expires_at)),
    revoked_at    timestamptz,
    CONSTRAINT api_tokens_secret UNIQUE (secret_sha256)
);
CREATE INDEX api_tokens_by_account ON api_tokens (account_id);
