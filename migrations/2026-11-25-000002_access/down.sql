DROP TABLE api_tokens;
DROP TABLE memberships;
DROP TABLE accounts;
DROP TABLE organisations;
DROP TABLE owners;
