//! What a test of the whole service needs: a database of its own, the service itself on a free port, and a client.
//!
//! [`TestDatabase::create`] is all a test needs to have a database. The server behind it is the one
//! `TEST_DATABASE_URL` names, else a container if a Docker engine answers, else PostgreSQL's own programs from this
//! machine, started once for all test processes and stopped soon after the last of them.
//! [`Service::start`] runs the real application on it, [`records`] writes what a test fleet consists of, and [`bench`]
//! puts published lives through it.

#![expect(
    clippy::indexing_slicing,
    reason = "a member that a JSON document does not have reads as null, and a test may panic"
)]

pub mod bench;
pub mod conformance;
pub mod database;
pub mod records;
pub mod reply;
pub mod service;

pub use database::TestDatabase;
pub use reply::Reply;
pub use service::Service;
