//! Several failure modes at once: a part works as long as none of them has come.
//!
//! Survival is the product over the modes (a series system; Nelson 1982, chapter 5).

use wearbook_analysis::fitting::{KnownShapeFit, known_shape};
use wearbook_analysis::nonparametric::{self, LimitKind, SurvivalCurve, kaplan_meier};
use wearbook_analysis::sample::Sample;
use wearbook_analysis::solve::root;

use super::answer::{EstimateWithLimits, LifeSummary, LimitsKind};
use super::exact_ages::{at_last_clean_look, when_found};
use super::input::AdviceInput;
use super::judged::Judged;
use super::modes::Sorted;

/// Modes too rare to be judged, together, as failures that come at a constant rate: too few to tell whether they
/// wear, yet part of the whole.
pub(super) struct Rare {
    rate: KnownShapeFit,
}

impl Rare {
    pub(super) fn of(sorted: &Sorted<'_>) -> Option<Self> {
        let sample = at_last_clean_look(sorted.rare.as_ref()?)?;
        let rate = known_shape(&sample, 1.0).ok()?;
        Some(Self { rate })
    }

    fn hazard(&self, span: f64) -> Option<f64> {
        Some(span / self.rate.scale?)
    }

    fn upper(&self, span: f64, level: f64) -> Option<f64> {
        let scale = self.rate.scale_lower(level)?;
        Some(-(-span / scale).exp_m1())
    }
}

/// Best value of the chance that a component that works at `age` fails by any mode within `span`.
pub(super) fn chance_ahead(
    judged: &[Judged<'_>],
    rare: Option<&Rare>,
    age: f64,
    span: f64,
) -> Option<f64> {
    match (judged, rare) {
        ([only], None) => only.model.chance_ahead(age, span),
        _ => Some(-(-hazard(judged, rare, age, span)?).exp_m1()),
    }
}

/// Accumulated hazard of all modes from `age` on; `None` where one of them has no best value.
fn hazard(judged: &[Judged<'_>], rare: Option<&Rare>, age: f64, span: f64) -> Option<f64> {
    let mut sum = match rare {
        Some(rare) => rare.hazard(span)?,
        None => 0.0,
    };
    for group in judged {
        sum -= (-group.model.chance_ahead(age, span)?).ln_1p();
    }
    Some(sum)
}

/// Upper limit of that chance: the sum of the upper limits of the modes, at most 1.
///
/// The chance of any is at most the sum of the chances of each. All limits hold at once with confidence `level`,
/// because each is allowed its equal share of what that leaves (Bonferroni).
pub(super) fn risk_upper(
    judged: &[Judged<'_>],
    rare: Option<&Rare>,
    age: f64,
    span: f64,
    level: f64,
) -> Option<f64> {
    let parts = judged.len() + usize::from(rare.is_some());
    let each = if parts > 1 {
        1.0 - (1.0 - level) / parts as f64
    } else {
        level
    };
    let mut sum = match rare {
        Some(rare) => rare.upper(span, each)?,
        None => 0.0,
    };
    for group in judged {
        let curve = group.model.curve(&group.input, each)?;
        sum += curve.risk_upper(age, span)?;
    }
    Some(sum.min(1.0))
}

/// How long parts last when every mode is at work. Best values come from the product of the models; their limits
/// from the product-limit curve of all failures, which knows no model and says nothing beyond the records. A best
/// value outside these limits means that the models describe the records badly there; the curve's own stands instead.
pub(super) fn life(
    input: &AdviceInput<'_>,
    judged: &[Judged<'_>],
    rare: Option<&Rare>,
) -> LifeSummary {
    let level = input.policy.shown_level;
    let early = at_last_clean_look(input.sample).and_then(|sample| curve(&sample, level));
    let late = when_found(input.sample).and_then(|sample| curve(&sample, level));
    let longest = input.sample.longest_usage();
    let at = |p: f64| {
        let seen = early.as_ref().map(|curve| curve.quantile(p));
        let lower = seen.and_then(|seen| seen.lower);
        let upper = late.as_ref().and_then(|curve| curve.quantile(p).upper);
        let value = age_at(judged, rare, longest, p)
            .filter(|age| lower.is_none_or(|lower| lower <= *age))
            .filter(|age| upper.is_none_or(|upper| *age <= upper))
            .or(seen.and_then(|seen| seen.value));
        EstimateWithLimits {
            value,
            lower,
            upper,
            beyond_records: value.is_none_or(|age| age > longest),
        }
    };
    LifeSummary {
        ten_in_hundred_failed: at(0.10),
        half_failed: at(0.50),
        level,
        limits: LimitsKind::ProductLimit,
    }
}

fn curve(sample: &Sample, level: f64) -> Option<SurvivalCurve> {
    let limits = nonparametric::Limits {
        kind: LimitKind::LogLog,
        level,
    };
    kaplan_meier(sample, limits).ok()
}

/// The age by which a share `p` has failed by any mode: no mode alone gets there sooner.
fn age_at(judged: &[Judged<'_>], rare: Option<&Rare>, longest: f64, p: f64) -> Option<f64> {
    let wanted = -(-p).ln_1p();
    let latest = judged
        .iter()
        .filter_map(|group| group.model.quantile(p))
        .chain(rare.and_then(|rare| Some(wanted * rare.rate.scale?)))
        .reduce(f64::min)?;
    let excess = |ln_age: f64| {
        hazard(judged, rare, 0.0, ln_age.exp()).map_or(f64::NAN, |hazard| hazard - wanted)
    };
    // Rounding may leave the end a hair below.
    let end = latest.ln() + 1e-9;
    let begin = end.min(longest.ln()) - SEARCH_DEPTH;
    root(excess, begin, end).map(f64::exp)
}

/// How far down an age is looked for, as a natural logarithm: a factor of about 10 to the 13th.
const SEARCH_DEPTH: f64 = 30.0;
