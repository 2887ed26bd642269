//! The pages as a person sees them, in a real browser.

mod chromium;
mod first_page;
