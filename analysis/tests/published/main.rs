//! Published data sets, worked figures and the report as a document.

#![expect(
    clippy::indexing_slicing,
    reason = "a test that panics has done its work"
)]

mod competing_modes;
mod curves;
mod decisions;
mod golden;
mod maximum_likelihood;
mod pooling;
mod regression;
mod reports;
mod usage_scale;
