//! Published data sets, worked figures and the report as a document.

#![expect(
    clippy::indexing_slicing,
    reason = "a test that panics has done its work"
)]

mod comparisons;
mod competing_modes;
mod curves;
mod decisions;
mod families;
mod golden;
mod goodness;
mod incidence;
mod limits;
mod maintenance;
mod maximum_likelihood;
mod pooling;
mod ranks;
mod recurrent;
mod regression;
mod reports;
mod usage_scale;
