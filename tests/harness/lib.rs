//! A database of its own for each test.
//!
//! [`TestDatabase::create`] is all a test needs. The server behind it is the one `TEST_DATABASE_URL`
//! names, else a container if a Docker engine answers, else PostgreSQL's own programs from this
//! machine, started once for all test processes and stopped soon after the last of them.

pub mod database;

pub use database::TestDatabase;
