//! The API as a client meets it.

#![expect(
    clippy::indexing_slicing,
    reason = "a member that a JSON document does not have reads as null, and a test may panic"
)]

mod analyses;
mod analysis_bounds;
mod analysis_methods;
mod bodies;
mod crossing;
mod etags;
mod health;
mod idempotency;
mod imports;
mod lists;
mod openapi;
mod outages;
mod pages;
mod problems;
mod records;
