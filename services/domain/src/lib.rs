//! The trade as types and rules: what a component went through, what life that gives, and what may be advised.
//!
//! Nothing here reads a file, a table or a clock; instants and random bytes come in as arguments.

pub mod advice;
pub mod catalogue;
pub mod demo;
pub mod history;
pub mod ids;
pub mod keys;
pub mod lives;
pub mod populations;
pub mod units;
pub mod usage_ledger;
pub mod vocabulary;

pub use catalogue::catalogue;
pub use keys::{DesignKey, FailureModeKey, PartTypeKey};
