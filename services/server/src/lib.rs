//! Wearbook: component lifetimes, inspections and failure reports in; survival models and intervals out.
//!
//! Slices (one folder per question a user has) call only front doors to their left:
//! access, catalogue, fleet, usage, failures, lives, fits, advice, analyses, exchange, pages. `platform` is below all of them.

pub mod access;
pub mod advice;
pub mod analyses;
pub mod app;
pub mod catalogue;
pub mod commands;
pub mod events;
pub mod exchange;
pub mod failures;
pub mod fits;
pub mod fleet;
pub mod health;
pub mod lives;
pub mod openapi;
pub mod pages;
pub mod platform;
pub mod reactions;
pub mod usage;
pub mod worker;
