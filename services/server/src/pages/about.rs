//! The page about the advice: what an interval is, how far it goes, and the long safety text.

use askama::Template;

use super::figures;
use super::layout::{Here, Shell};

/// The parts of the page that depend on the policy in force.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AboutView {
    /// Confidence level of the lower limits that suggestions are computed at, between 0 and 1.
    pub level: f64,
    /// The policy's limits, worst severity first; empty leaves the table out.
    pub policy: Vec<PolicyRow>,
}

/// The risk that the policy accepts for one severity.
#[derive(Debug, Clone, PartialEq)]
pub struct PolicyRow {
    /// The severity word.
    pub severity: String,
    /// Its number, 1 the worst.
    pub number: u8,
    /// What it means here.
    pub meaning: String,
    /// Largest share that may fail within one interval, if the policy sets one.
    pub per_interval: Option<f64>,
    /// Largest mean chance of failure per flight, if the policy sets one.
    pub per_flight: Option<f64>,
}

impl AboutView {
    fn level_text(&self) -> String {
        figures::level(self.level)
    }
}

impl PolicyRow {
    fn per_interval_text(&self) -> String {
        self.per_interval
            .map_or_else(|| "no limit".to_owned(), figures::percent)
    }

    fn per_flight_text(&self) -> String {
        match self.per_flight {
            Some(share) if share > 0.0 => {
                format!("1 in {}", figures::suggestion(share.recip()))
            }
            _ => "no limit".to_owned(),
        }
    }
}

#[derive(Template)]
#[template(path = "about.html")]
struct AboutPage<'a> {
    shell: &'a Shell,
    here: Here,
    view: &'a AboutView,
}

/// Writes the page about the advice.
///
/// # Errors
/// Fails only when the template cannot be written out.
pub fn render(shell: &Shell, view: &AboutView) -> Result<String, askama::Error> {
    AboutPage {
        shell,
        here: Here::About,
        view,
    }
    .render()
}
