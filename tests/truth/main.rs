//! Published lives, entered as a pilot enters them, come out as published.

#![expect(
    clippy::indexing_slicing,
    reason = "a member that a JSON document does not have reads as null, and a test may panic"
)]

mod compare;
mod curves;
mod models;
mod replay;
