//! The plain fields that the page of a part type is written from.

use chrono::{DateTime, NaiveDate, Utc};

use crate::pages::Shown;
use crate::pages::charts::{ProbabilityChart, SurvivalChart};
use crate::pages::figures::{self, Estimate, ScaleWords};

/// Everything the page shows.
#[derive(Debug, Clone, PartialEq)]
pub struct PartTypeView {
    /// Lower-case-hyphen key of the part type.
    pub key: String,
    /// Such as "Tail drive belt".
    pub name: String,
    /// Name of the system it belongs to.
    pub system: String,
    /// Key of that system, the anchor on the first page.
    pub system_key: String,
    /// The severity word of losing the part.
    pub severity: String,
    /// Its number, 1 the worst.
    pub severity_number: u8,
    /// What that severity means here, as part of a sentence.
    pub severity_meaning: String,
    /// The scale of every age on the page.
    pub scale: ScaleWords,
    /// The scales the part type can be shown on; one entry or none leaves the switch out.
    pub scales: Vec<ScaleLink>,
    /// What the lives have in common, such as "all designs, all flying styles".
    pub population: String,
    /// The numbers behind the figures.
    pub basis: Basis,
    /// The suggestion.
    pub answer: Answer,
    /// What to keep in mind, one sentence each.
    pub cautions: Vec<String>,
    /// The survival curve.
    pub survival: Shown<SurvivalChart>,
    /// The probability plot.
    pub probability: Shown<ProbabilityChart>,
    /// The fitted distributions side by side.
    pub models: Shown<ModelTable>,
    /// What the survival curve says at several ages.
    pub risks: Shown<RiskTable>,
    /// How the part has failed, the most frequent first.
    pub modes: Vec<ModeRow>,
    /// Why and when to look after fitting or rebuild, one sentence each; empty where no mode comes early.
    pub settling: Vec<String>,
    /// What people do without any statistics.
    pub practice: Vec<PracticeRow>,
    /// How to find and repeat the computation.
    pub provenance: Provenance,
}

/// One choice of the scale switch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScaleLink {
    /// The scale.
    pub scale: ScaleWords,
    /// The page on that scale.
    pub href: String,
    /// Whether this is the scale being shown.
    pub current: bool,
}

/// The numbers behind the figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Basis {
    /// Failures that count against the part.
    pub failures: u64,
    /// Pieces with a usable life.
    pub lives: u64,
    /// Owners who gave those lives, where that may be shown.
    pub owners: Option<u64>,
    /// Day of the youngest record.
    pub data_date: Option<NaiveDate>,
    /// Age of the oldest piece seen.
    pub longest: Option<f64>,
    /// Confidence level of the limits on the page, between 0 and 1.
    pub level: f64,
}

/// The suggestion and how far it goes.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Look every so much usage.
    pub look_every: Shown<f64>,
    /// Renew by this age.
    pub renew_by: Shown<f64>,
    /// Age by which 10 in 100 have failed.
    pub decile: Shown<Estimate>,
    /// The evidence grade as a word.
    pub grade: String,
    /// Why the grade is what it is, one sentence each.
    pub grade_reasons: Vec<String>,
    /// What the suggestion takes for granted, one sentence each.
    pub assumptions: Vec<String>,
    /// What the design's manual says, if it is known.
    pub manual: Option<String>,
    /// Last day on which the suggestion should be used without a new fit.
    pub valid_until: Option<NaiveDate>,
}

/// The fitted distributions side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelTable {
    /// Best first.
    pub rows: Vec<ModelRow>,
    /// Why the chosen one was chosen, as a sentence.
    pub why: String,
}

/// One fitted distribution.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelRow {
    /// Such as "Weibull".
    pub family: String,
    /// Whether the page's figures come from it.
    pub chosen: bool,
    /// Its parameters with limits.
    pub parameters: Vec<ParameterFigure>,
    /// Natural logarithm of the likelihood at its maximum.
    pub log_likelihood: f64,
    /// Akaike's criterion corrected for sample size, where it exists.
    pub aicc: Option<f64>,
    /// How far that lies above the smallest of the table.
    pub aicc_difference: Option<f64>,
}

/// One parameter of a fit.
#[derive(Debug, Clone, PartialEq)]
pub struct ParameterFigure {
    /// Such as "shape".
    pub name: String,
    /// The value with its limits.
    pub figure: Estimate,
    /// The unit after the limits, empty for a bare number.
    pub unit: &'static str,
}

/// What the survival curve says at several ages.
#[derive(Debug, Clone, PartialEq)]
pub struct RiskTable {
    /// Further usage that each risk column looks ahead.
    pub spans: Vec<f64>,
    /// By rising age.
    pub rows: Vec<RiskRow>,
}

/// The chances of a piece that has reached one age.
#[derive(Debug, Clone, PartialEq)]
pub struct RiskRow {
    /// The age reached.
    pub age: f64,
    /// Share of new pieces that have failed by then.
    pub failed_by: Estimate,
    /// Chance to fail within each span, given the age was reached.
    pub next: Vec<Shown<f64>>,
}

/// One failure mode.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModeRow {
    /// Such as "Teeth sheared".
    pub name: String,
    /// The severity word.
    pub severity: String,
    /// Failures reported in this mode.
    pub failures: u64,
    /// What its own fit says of wear, such as "wears out", or why there is none.
    pub verdict: String,
    /// Renewal by this mode alone, with the unit, or a word for none.
    pub renew_by: String,
    /// The look by this mode alone: "every" with the span, "before every flight", or a word for none.
    pub look: String,
    /// What it does to the flight.
    pub effect: String,
    /// How it can be found in time.
    pub detection: String,
}

/// One line of common practice.
#[derive(Debug, Clone, PartialEq)]
pub struct PracticeRow {
    /// What is done.
    pub task: String,
    /// From and to, where practice names figures.
    pub interval: Option<(f64, f64)>,
    /// The unit of the interval, or the word for what sets it off.
    pub unit: String,
    /// When it is done, if not by usage alone.
    pub trigger: Option<String>,
    /// Where it comes from.
    pub source: String,
}

/// How to find and repeat the computation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Provenance {
    /// Id of the fit, if one has been stored.
    pub fit_id: Option<String>,
    /// SHA-256 of the lives in their fixed order, in hexadecimal digits.
    pub digest: Option<String>,
    /// When the fit was computed.
    pub computed_at: Option<DateTime<Utc>>,
    /// Name and version of the policy in force.
    pub policy: Option<String>,
    /// The methods in words, one sentence each.
    pub methods: Vec<String>,
    /// The same figures from the API.
    pub api_href: String,
}

impl PartTypeView {
    /// The suggestion in one sentence, with its scale, basis and grade.
    #[must_use]
    pub fn sentence(&self) -> String {
        let look = match &self.answer.look_every {
            Ok(span) => format!("Suggested look every {}", self.scale.suggested(*span)),
            Err(_) => "No suggested look".to_owned(),
        };
        let renewal = match &self.answer.renew_by {
            Ok(age) => format!("renewal by {}", self.scale.suggested(*age)),
            Err(_) => "no planned renewal".to_owned(),
        };
        format!("{look}; {renewal}. {}.", self.basis.sentence())
    }

    pub(super) fn level_text(&self) -> String {
        figures::level(self.basis.level)
    }

    pub(super) fn unit_after(&self, suggested: f64) -> &'static str {
        self.scale.after(&figures::suggestion(suggested))
    }
}

impl Basis {
    /// "Based on r failures in n pieces of K owners, data to a day".
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut words = format!(
            "Based on {} in {}",
            figures::counted(self.failures, "failure", "failures"),
            figures::counted(self.lives, "piece", "pieces")
        );
        if let Some(owners) = self.owners {
            words.push_str(" of ");
            words.push_str(&figures::counted(owners, "owner", "owners"));
        }
        if let Some(date) = self.data_date {
            words.push_str(", data to ");
            words.push_str(&figures::day(date));
        }
        words
    }
}

impl ModelRow {
    pub(super) fn aicc_text(&self) -> String {
        self.aicc
            .map_or_else(|| "not defined".to_owned(), figures::score)
    }

    pub(super) fn difference_text(&self) -> String {
        self.aicc_difference
            .map_or_else(|| "not defined".to_owned(), figures::score)
    }
}

impl RiskTable {
    pub(super) fn span_texts(&self) -> Vec<String> {
        self.spans.iter().map(|span| figures::age(*span)).collect()
    }
}

impl RiskRow {
    pub(super) fn age_text(&self) -> String {
        figures::age(self.age)
    }

    pub(super) fn next_texts(&self) -> Vec<String> {
        self.next
            .iter()
            .map(|chance| {
                chance
                    .as_ref()
                    .map_or_else(Clone::clone, |chance| figures::percent(*chance))
            })
            .collect()
    }
}

impl PracticeRow {
    pub(super) fn interval_text(&self) -> String {
        match self.interval {
            Some((from, to)) if from == to => format!("{} {}", figures::age(from), self.unit),
            Some((from, to)) => format!(
                "{} to {} {}",
                figures::age(from),
                figures::age(to),
                self.unit
            ),
            None => self
                .trigger
                .clone()
                .unwrap_or_else(|| "on condition".to_owned()),
        }
    }

    pub(super) fn trigger_text(&self) -> &str {
        match (&self.interval, &self.trigger) {
            (Some(_), Some(trigger)) => trigger,
            _ => "",
        }
    }
}

impl Provenance {
    pub(super) fn computed_text(&self) -> String {
        self.computed_at.map_or_else(String::new, |at| {
            at.format("%-d %B %Y, %H:%M UTC").to_string()
        })
    }
}
