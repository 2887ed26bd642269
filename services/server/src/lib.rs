//! Wearbook: component lifetimes, inspections and failure reports in; survival models and intervals out.
//!
//! Slices (one folder per question a user has) call only front doors to their left:
//! access, catalogue, fleet, usage, failures, lives, fits, advice, exchange, pages. `platform` is below all of them.

pub mod access;
pub mod app;
pub mod catalogue;
pub mod events;
pub mod failures;
pub mod fleet;
pub mod health;
pub mod openapi;
pub mod platform;
pub mod usage;
