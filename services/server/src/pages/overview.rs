//! The first page: what this is, and every part type in one table.

use askama::Template;
use chrono::NaiveDate;

use super::Shown;
use super::charts::{LifeAxis, LifeBar, life_axis, life_bar};
use super::figures::{self, Estimate, ScaleWords};
use super::layout::{Here, Shell};

/// What the first page shows.
#[derive(Debug, Clone, PartialEq)]
pub struct OverviewView {
    /// Day of the youngest record in the figures.
    pub data_date: Option<NaiveDate>,
    /// Confidence level of all limits in the table, between 0 and 1.
    pub level: f64,
    /// How many records there are.
    pub totals: Totals,
    /// Groups of part types, in the order of the catalogue.
    pub systems: Vec<SystemGroup>,
}

/// How many records the instance holds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Totals {
    /// Helicopters with at least one record.
    pub airframes: u64,
    /// Flights flown by them.
    pub flights: u64,
    /// Lives of pieces that entered a fit.
    pub lives: u64,
    /// Failures among those lives.
    pub failures: u64,
    /// Owners who gave records.
    pub owners: u64,
}

/// The part types of one system.
#[derive(Debug, Clone, PartialEq)]
pub struct SystemGroup {
    /// Lower-case-hyphen key, unique on the page.
    pub key: String,
    /// Such as "Tail belt drive and boom".
    pub name: String,
    /// The part types, in the order of the catalogue.
    pub rows: Vec<PartRow>,
}

/// One part type in the table.
#[derive(Debug, Clone, PartialEq)]
pub struct PartRow {
    /// Lower-case-hyphen key of the part type.
    pub key: String,
    /// Such as "Tail drive belt".
    pub name: String,
    /// What the loss of the part means, as the severity word.
    pub severity: String,
    /// The wear scale of all figures in the row.
    pub scale: ScaleWords,
    /// Age by which 10 in 100 have failed.
    pub decile: Shown<Estimate>,
    /// Suggested look every so much usage.
    pub look_every: Shown<f64>,
    /// Suggested renewal by this age.
    pub renew_by: Shown<f64>,
    /// The evidence grade as a word, such as "fair".
    pub grade: String,
    /// Lives of pieces in the fit.
    pub lives: u64,
    /// Failures among them.
    pub failures: u64,
}

impl OverviewView {
    /// Whether no life has been recorded yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.totals.lives == 0
    }

    fn level_text(&self) -> String {
        figures::level(self.level)
    }

    /// The axis of the bars holds the rows on the scale that most rows use.
    fn shared_axis(&self) -> Option<SharedAxis> {
        let rows = || self.systems.iter().flat_map(|system| &system.rows);
        let scale = [
            ScaleWords::FLIGHTS,
            ScaleWords::FLIGHT_MINUTES,
            ScaleWords::ROTOR_KREV,
        ]
        .into_iter()
        .rev()
        .max_by_key(|scale| {
            rows()
                .filter(|row| row.scale == *scale && row.decile.is_ok())
                .count()
        })?;
        let reach = rows().filter(|row| row.scale == scale).flat_map(|row| {
            let estimate = row.decile.as_ref().ok();
            [
                estimate.map(|e| e.value),
                estimate.and_then(|e| e.lower),
                estimate.and(row.renew_by.as_ref().ok().copied()),
            ]
        });
        let axis = LifeAxis::holding(reach.flatten())?;
        Some(SharedAxis { axis, scale })
    }
}

impl Totals {
    fn sentence(&self) -> String {
        format!(
            "{} and {} of {}, {}, from {}",
            figures::counted(self.lives, "life of a piece", "lives of pieces"),
            figures::counted(self.failures, "failure", "failures"),
            figures::counted(self.airframes, "helicopter", "helicopters"),
            figures::counted(self.flights, "flight", "flights"),
            figures::counted(self.owners, "owner", "owners"),
        )
    }
}

impl PartRow {
    fn unit_after(&self, suggested: f64) -> &'static str {
        self.scale.after(&figures::suggestion(suggested))
    }

    fn bar(&self, shared: &SharedAxis) -> Option<String> {
        if self.scale != shared.scale {
            return None;
        }
        let estimate = *self.decile.as_ref().ok()?;
        Some(life_bar(
            &LifeBar {
                id: format!("bar-{}", self.key),
                subject: self.name.clone(),
                unit: self.scale.unit,
                estimate,
                renew_by: self.renew_by.as_ref().ok().copied(),
            },
            &shared.axis,
        ))
    }
}

struct SharedAxis {
    axis: LifeAxis,
    scale: ScaleWords,
}

impl SharedAxis {
    fn head(&self) -> String {
        life_axis(&self.axis, self.scale.unit)
    }
}

#[derive(Template)]
#[template(path = "overview.html")]
struct OverviewPage<'a> {
    shell: &'a Shell,
    here: Here,
    view: &'a OverviewView,
    axis: Option<SharedAxis>,
}

/// Writes the first page.
///
/// # Errors
/// Fails only when the template cannot be written out.
pub fn render(shell: &Shell, view: &OverviewView) -> Result<String, askama::Error> {
    OverviewPage {
        shell,
        here: Here::Parts,
        view,
        axis: view.shared_axis(),
    }
    .render()
}
