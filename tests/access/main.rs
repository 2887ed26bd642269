//! Who may do what, and see what.

mod scopes;
mod tenants;
