//! The pages for people: plain views in, finished HTML out.
//!
//! Each page has a view of plain fields and a pure `render`; what cannot be shown carries its reason
//! in words. Pages need no script and load nothing but the style sheet and the sketch in the tab.

pub mod about;
pub mod charts;
pub mod errors;
pub mod figures;
pub mod layout;
pub mod overview;
pub mod part_type;
mod serve;

pub use serve::{Description, problem_page, routes};

/// What a page shows, or the reason in plain words why it cannot.
pub type Shown<T> = Result<T, String>;

#[cfg(test)]
mod tests;
