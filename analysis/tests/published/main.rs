//! Published data sets, worked figures and the report as a document.

#![expect(
    clippy::indexing_slicing,
    reason = "a test that panics has done its work"
)]

mod curves;
mod decisions;
mod golden;
mod limits;
mod maximum_likelihood;
mod reports;
