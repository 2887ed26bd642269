//! The outbox and the job queue: both are rows, written in the transaction of the change that asks for them.

pub mod outbox;
pub mod queue;

pub use queue::Job;
