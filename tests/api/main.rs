//! The API as a client meets it.

mod etags;
mod health;
mod idempotency;
mod imports;
mod lists;
mod openapi;
mod pages;
mod problems;
mod records;
