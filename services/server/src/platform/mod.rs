//! What every slice stands on. Nothing here names a slice.

pub mod clock;
pub mod config;
pub mod http;
pub mod jobs;
pub mod postgres;
pub mod telemetry;
