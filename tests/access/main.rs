//! Who may do what, and see what.

#![expect(
    clippy::indexing_slicing,
    reason = "a member that a JSON document does not have reads as null, and a test may panic"
)]

mod scopes;
mod tenants;
