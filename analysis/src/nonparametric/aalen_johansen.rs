//! Cumulative incidence of each cause of failure beside the others (Aalen and Johansen 1978, Scandinavian Journal of
//! Statistics 5).

use super::causes::{CauseFailures, failures_by_cause};
use super::kaplan_meier::kaplan_meier;
use super::risk::{Moment, moments};
use super::survival_curve::SurvivalCurve;
use super::{EstimateError, LimitKind, Limits};
use crate::sample::Sample;
use crate::special::normal;
use crate::summation::Sum;

/// Cumulative incidence of every cause, and survival of all of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Incidence {
    /// How the limits were made.
    pub limits: Limits,
    /// One curve per cause; failures without a cause come first, as a cause of their own.
    pub causes: Vec<CauseIncidence>,
    /// Product-limit survival of all causes; the incidences add up to its complement. Carries the cautions.
    pub survival: SurvivalCurve,
}

/// Cumulative incidence of one cause: a step curve, 0 before the first point.
#[derive(Clone, Debug, PartialEq)]
pub struct CauseIncidence {
    /// The cause; none for failures without one.
    pub cause: Option<String>,
    /// Failures of this cause.
    pub failures: u64,
    /// One point at every usage at which a life fails of this cause. Estimate and errors change nowhere else.
    pub points: Vec<IncidencePoint>,
}

/// Incidence just after one usage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IncidencePoint {
    /// Usage.
    pub time: f64,
    /// Lives with `entry < time <= exit`.
    pub at_risk: u64,
    /// Failures of this cause at this usage.
    pub failed: u64,
    /// Share of all lives that fail of this cause by this usage, while the other causes act too.
    pub incidence: f64,
    /// Variance of Greenwood's type (multinomial, ties exact; Andersen et al. 1993, section IV.4); the limits use it.
    pub variance: f64,
    /// Variance as a counting process, with ties corrected per cause (Gray 1988, Annals of Statistics 16).
    pub variance_counting: f64,
    /// Lower limit; none where the incidence is 1, and for a cause first seen after the survival curve reached 0.
    pub lower: Option<f64>,
    /// Upper limit; none as the lower one.
    pub upper: Option<f64>,
}

/// Cumulative incidence per cause under right censoring and delayed entry; failures come before censorings at ties.
///
/// The limits are those of the complement of the incidence on the scale asked for, so that a single cause has the
/// limits of the survival curve.
///
/// # Errors
/// As [`super::kaplan_meier`].
pub fn aalen_johansen(sample: &Sample, limits: Limits) -> Result<Incidence, EstimateError> {
    let survival = kaplan_meier(sample, limits)?;
    let moments = moments(sample)?;
    let (causes, failures) = failures_by_cause(sample);
    let z = normal::upper_quantile((0.5 * (1.0 - limits.level)).ln());
    let mut curves: Vec<Running> = causes.into_iter().map(Running::new).collect();
    let mut all = All::default();
    let mut tied = failures.chunk_by(|a, b| a.time >= b.time).peekable();
    for moment in moments.iter().filter(|moment| moment.failed > 0) {
        let Some(here) = tied.next_if(|here| here.first().is_some_and(|f| f.time <= moment.time))
        else {
            continue;
        };
        let before = all.survival;
        all.pass(moment);
        for failed in here {
            if let Some(curve) = curves.get_mut(failed.cause) {
                curve.jump(moment, failed, before, &all);
            }
        }
        // Limits need the complement, which the other causes at this usage belong to.
        for failed in here {
            if let Some(point) = curves.get_mut(failed.cause) {
                point.bound(&all, z, limits.kind);
            }
        }
        all.settle(moment);
    }
    Ok(Incidence {
        limits,
        causes: curves.into_iter().map(Running::finish).collect(),
        survival,
    })
}

impl Incidence {
    /// Incidence of a cause just after `usage`; none for an unknown cause, and beyond the last usage watched unless
    /// nobody survived it.
    #[must_use]
    pub fn at(&self, cause: Option<&str>, usage: f64) -> Option<f64> {
        self.survival.survival_at(usage)?;
        let curve = self
            .causes
            .iter()
            .find(|curve| curve.cause.as_deref() == cause)?;
        Some(curve.point_at(usage).map_or(0.0, |point| point.incidence))
    }
}

impl CauseIncidence {
    /// The step in force just after `usage`; none before the first failure.
    #[must_use]
    pub fn point_at(&self, usage: f64) -> Option<&IncidencePoint> {
        let passed = self.points.partition_point(|point| point.time <= usage);
        self.points.get(passed.checked_sub(1)?)
    }
}

/// What all causes share.
#[derive(Clone, Copy, Debug)]
struct All {
    survival: f64,
    incidence: Sum,
    /// Greenwood's sum before this usage.
    relative: Sum,
    /// The same for the counting-process variance, with all causes taken as others.
    relative_counting: Sum,
}

impl Default for All {
    fn default() -> Self {
        Self {
            survival: 1.0,
            incidence: Sum::default(),
            relative: Sum::default(),
            relative_counting: Sum::default(),
        }
    }
}

impl All {
    fn pass(&mut self, moment: &Moment) {
        let (n, d) = (moment.at_risk as f64, moment.failed as f64);
        self.incidence.add(self.survival * d / n);
        self.survival *= (n - d) / n;
    }

    fn settle(&mut self, moment: &Moment) {
        let (n, d) = (moment.at_risk as f64, moment.failed as f64);
        if moment.failed < moment.at_risk {
            self.relative.add(d / (n * (n - d)));
            self.relative_counting
                .add(tie_factor(n, d) * d / ((n - d) * (n - d)));
        }
    }
}

/// `1 - (d - 1)/(n - 1)`: variance of `d` tied failures over that of `d` separate ones.
fn tie_factor(n: f64, d: f64) -> f64 {
    if d > 1.0 {
        1.0 - (d - 1.0) / (n - 1.0)
    } else {
        1.0
    }
}

/// Sums over past usages `s` of `(F - F(s))^2 w(s)`, `(F - F(s)) w(s)` and `w(s)`, kept while `F` grows. Every term
/// stays positive, so nothing cancels.
#[derive(Clone, Copy, Debug, Default)]
struct Spread {
    squares: Sum,
    firsts: Sum,
}

impl Spread {
    /// `weights` is the sum of `w(s)` over the past.
    fn grow(&mut self, step: f64, weights: f64) {
        self.squares
            .add(step * (2.0 * self.firsts.total() + step * weights));
        self.firsts.add(step * weights);
    }
}

/// One cause's curve while it is built.
///
/// With `F` the incidence and `S` survival, the variance at `t` is the sum over failure usages `s <= t` of
/// `(F(t) - F(s))^2 d/(n(n-d)) + S(s-)^2 d_k(n-d_k)/n^3 - 2 (F(t) - F(s)) S(s-) d_k/n^2`.
struct Running {
    curve: CauseIncidence,
    incidence: Sum,
    spread: Spread,
    own: Sum,
    cross: Sum,
    cross_growth: Sum,
    counting: Counting,
}

/// The terms of the counting-process variance: sums over `s` of `S(s-)^2/n^2` times
/// `(1 - (F(t)-F(s))/S(s))^2 d_k` for this cause and `((F(t)-F(s))/S(s))^2 d_other` for the others.
#[derive(Clone, Copy, Debug, Default)]
struct Counting {
    spread: Spread,
    /// Weights of this cause's own usages over what [`All`] holds for them.
    excess: Sum,
    own: Sum,
    cross: Sum,
    cross_growth: Sum,
}

impl Running {
    fn new(cause: Option<String>) -> Self {
        Self {
            curve: CauseIncidence {
                cause,
                failures: 0,
                points: Vec::new(),
            },
            incidence: Sum::default(),
            spread: Spread::default(),
            own: Sum::default(),
            cross: Sum::default(),
            cross_growth: Sum::default(),
            counting: Counting::default(),
        }
    }

    /// `before` is survival before this usage; `all` has its sums of weights up to before it.
    fn jump(&mut self, moment: &Moment, failed: &CauseFailures, before: f64, all: &All) {
        let (n, d) = (moment.at_risk as f64, moment.failed as f64);
        let mine = failed.failed as f64;
        let step = before * mine / n;
        self.incidence.add(step);
        self.spread.grow(step, all.relative.total());
        self.cross_growth.add(step * self.cross.total());
        self.own
            .add((before / n) * (before / n) * mine * ((n - mine) / n));
        self.cross.add(before / n * (mine / n));

        let counting = &mut self.counting;
        counting.spread.grow(
            step,
            (all.relative_counting.total() + counting.excess.total()).max(0.0),
        );
        counting.cross_growth.add(step * counting.cross.total());
        let own = tie_factor(n, mine) * mine;
        counting.own.add((before / n) * (before / n) * own);
        if moment.failed < moment.at_risk {
            let others = tie_factor(n, d - mine) * (d - mine);
            let together = tie_factor(n, d) * d;
            counting
                .excess
                .add((own + others - together) / ((n - d) * (n - d)));
            counting.cross.add(before / n * own / (n - d));
        }

        self.curve.failures += failed.failed;
        self.curve.points.push(IncidencePoint {
            time: moment.time,
            at_risk: moment.at_risk,
            failed: failed.failed,
            incidence: self.incidence.total().min(1.0),
            variance: (self.spread.squares.total() + self.own.total()
                - 2.0 * self.cross_growth.total())
            .max(0.0),
            variance_counting: (self.counting.spread.squares.total() + self.counting.own.total()
                - 2.0 * self.counting.cross_growth.total())
            .max(0.0),
            lower: None,
            upper: None,
        });
    }

    fn bound(&mut self, all: &All, z: f64, kind: LimitKind) {
        let others = all.incidence.total() - self.incidence.total();
        let rest = all.survival + others.max(0.0);
        if let Some(point) = self
            .curve
            .points
            .last_mut()
            .filter(|point| rest > 0.0 && point.incidence > 0.0)
        {
            let (lower, upper) =
                incidence_limits(point.incidence, rest, point.variance.sqrt(), z, kind);
            point.lower = Some(lower.clamp(0.0, 1.0));
            point.upper = Some(upper.clamp(0.0, 1.0));
        }
    }

    fn finish(self) -> CauseIncidence {
        self.curve
    }
}

/// Limits of an incidence above 0 whose complement is `rest > 0`.
pub(super) fn incidence_limits(
    incidence: f64,
    rest: f64,
    error: f64,
    z: f64,
    kind: LimitKind,
) -> (f64, f64) {
    // Through the cumulative hazard, which keeps the digits of a small incidence.
    let hazard = if incidence < 0.5 {
        -(-incidence).ln_1p()
    } else {
        -rest.ln()
    };
    let wide = z * error / rest;
    let share = |hazard: f64| -(-hazard).exp_m1();
    match kind {
        LimitKind::Plain => (incidence - z * error, incidence + z * error),
        LimitKind::Log => (share(hazard - wide), share(hazard + wide)),
        LimitKind::LogLog => {
            let stretch = (wide / hazard).exp();
            (share(hazard / stretch), share(hazard * stretch))
        }
    }
}
