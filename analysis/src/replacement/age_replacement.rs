//! Renewal at a fixed age or at failure, whichever comes first (Barlow and Hunter 1960, Operations Research 8, policy I;
//! Barlow and Proschan 1965, Mathematical Theory of Reliability, section 4.2).

use super::costs::{finite, positive};
use super::smooth_life::SmoothLife;
use super::{DecisionError, RenewalCosts};
use crate::fitting::LifeDistribution;
use crate::solve::root;

/// Savings below this share of the cost of running to failure are rounding, not savings.
const LEAST_SAVING: f64 = 1e-10;

/// The age at which renewal costs least, or that none does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AgeReplacement {
    /// Renew at this age.
    At(RenewalAge),
    /// No age costs less than running to failure.
    NoAgePays {
        /// Why not.
        reason: NoAge,
        /// Mean cost per unit of usage when run to failure; none where the mean life is infinite.
        cost_run_to_failure: Option<f64>,
        /// Mean life; none where it is infinite.
        mean_life: Option<f64>,
    },
}

/// Why no age pays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoAge {
    /// A failure costs no more than a planned renewal.
    FailureCostsNoMore,
    /// The hazard does not rise with age, so an old one is no worse than a new one.
    HazardDoesNotRise,
    /// The hazard rises too little, or too late, to pay for planned renewals.
    RisesTooLittle,
    /// The upper limit of the shape does not exceed 1: these data do not show wear.
    WearNotShown {
        /// That upper limit.
        shape_upper: f64,
    },
    /// The best age lies beyond the longest usage observed.
    BeyondData {
        /// The best age.
        age: f64,
        /// The longest usage observed.
        longest_usage: f64,
    },
}

/// The best age, what it costs, and how flat the cost is about it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RenewalAge {
    /// The age.
    pub age: f64,
    /// Mean cost per unit of usage.
    pub cost_rate: f64,
    /// Share of lives that reach the age.
    pub reliability: f64,
    /// Mean usage between renewals of either kind.
    pub mean_cycle: f64,
    /// Mean cost per unit of usage when run to failure.
    pub cost_run_to_failure: f64,
    /// Mean life.
    pub mean_life: f64,
    /// Share of the cost of running to failure that is saved.
    pub saving: f64,
    /// Mean cost per unit of usage when renewed at half the age.
    pub cost_at_half: f64,
    /// Mean cost per unit of usage when renewed at twice the age.
    pub cost_at_double: f64,
    life: SmoothLife,
    costs: RenewalCosts,
}

/// What is known of a fitted life beside its parameters.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AgeEvidence {
    /// Upper limit of the Weibull shape, where there is one.
    pub shape_upper: Option<f64>,
    /// Longest usage observed.
    pub longest_usage: Option<f64>,
}

/// Mean cost per unit of usage when renewed at `age` or at failure: `(planned R(age) + failure F(age))` over the mean
/// usage of a life cut off at `age`.
///
/// # Errors
/// For a life of a family not served or with an extreme shape, an age that is not finite and above 0, or a number out
/// of range.
pub fn renewal_cost_rate(
    life: LifeDistribution,
    costs: RenewalCosts,
    age: f64,
) -> Result<f64, DecisionError> {
    cost_rate(&SmoothLife::new(life)?, costs, age)
}

fn cost_rate(life: &SmoothLife, costs: RenewalCosts, age: f64) -> Result<f64, DecisionError> {
    positive("age", age)?;
    let cycle = life.mean_up_to(age).ok_or(DecisionError::NotConverged)?;
    let cost = costs.planned() * life.survival(age) + costs.failure() * life.failure(age);
    // Not even a cost of 0: it would be too small a number, not none.
    let rate = finite(cost / cycle)?;
    if rate <= 0.0 {
        return Err(DecisionError::OutOfRange);
    }
    Ok(rate)
}

/// The age that costs least. Where the hazard rises, the cost rate has one lowest point, at which the failures that
/// the last hazard would have added over the cycle equal `planned / (failure - planned)`.
///
/// # Errors
/// For a life of a family not served or with an extreme shape; when an integral or root does not converge, or a number
/// leaves its range.
pub fn age_replacement(
    life: LifeDistribution,
    costs: RenewalCosts,
) -> Result<AgeReplacement, DecisionError> {
    let life = SmoothLife::new(life)?;
    let mean_life = life.mean();
    let cost_run_to_failure = mean_life
        .map(|mean| costs.failure() / mean)
        .filter(|cost| cost.is_finite());
    let none = |reason| {
        Ok(AgeReplacement::NoAgePays {
            reason,
            cost_run_to_failure,
            mean_life,
        })
    };
    if costs.failure() <= costs.planned() {
        return none(NoAge::FailureCostsNoMore);
    }
    let Some(top) = life.ln_usage_of_highest_hazard() else {
        return none(NoAge::HazardDoesNotRise);
    };
    let (Some(mean_life), Some(cost_run_to_failure)) = (mean_life, cost_run_to_failure) else {
        return Err(DecisionError::NoMean);
    };
    let Some(ln_age) = ln_best_age(&life, costs, top)? else {
        return none(NoAge::RisesTooLittle);
    };
    let age = finite(ln_age.exp())?;
    positive("best age", age).map_err(|_| DecisionError::OutOfRange)?;
    // Costs this far apart leave no digits of the share that fails.
    if life.failure(age) < 1e-290 {
        return Err(DecisionError::OutOfRange);
    }
    let lowest = cost_rate(&life, costs, age)?;
    let saving = 1.0 - lowest / cost_run_to_failure;
    if saving < LEAST_SAVING {
        return none(NoAge::RisesTooLittle);
    }
    Ok(AgeReplacement::At(RenewalAge {
        age,
        cost_rate: lowest,
        reliability: life.survival(age),
        mean_cycle: life.mean_up_to(age).ok_or(DecisionError::NotConverged)?,
        cost_run_to_failure,
        mean_life,
        saving,
        cost_at_half: cost_rate(&life, costs, 0.5 * age)?,
        cost_at_double: cost_rate(&life, costs, 2.0 * age)?,
        life,
        costs,
    }))
}

/// The age that costs least, unless the data do not carry it.
///
/// # Errors
/// As [`age_replacement`]; and for evidence that is not finite and above 0.
pub fn age_replacement_with_evidence(
    life: LifeDistribution,
    costs: RenewalCosts,
    evidence: AgeEvidence,
) -> Result<AgeReplacement, DecisionError> {
    for (name, given) in [
        ("upper limit of the shape", evidence.shape_upper),
        ("longest usage", evidence.longest_usage),
    ] {
        given.map_or(Ok(()), |value| positive(name, value))?;
    }
    let best = age_replacement(life, costs)?;
    let AgeReplacement::At(at) = best else {
        return Ok(best);
    };
    let none = |reason| {
        Ok(AgeReplacement::NoAgePays {
            reason,
            cost_run_to_failure: Some(at.cost_run_to_failure),
            mean_life: Some(at.mean_life),
        })
    };
    if let Some(shape_upper) = evidence.shape_upper.filter(|upper| *upper <= 1.0) {
        return none(NoAge::WearNotShown { shape_upper });
    }
    match evidence.longest_usage {
        Some(longest_usage) if at.age > longest_usage => none(NoAge::BeyondData {
            age: at.age,
            longest_usage,
        }),
        _ => Ok(best),
    }
}

/// Logarithm of the age at which the condition of the lowest cost holds; none where it never does.
fn ln_best_age(
    life: &SmoothLife,
    costs: RenewalCosts,
    top: f64,
) -> Result<Option<f64>, DecisionError> {
    let ln_target = costs.planned().ln() - (costs.failure() - costs.planned()).ln();
    let gap = |ln_age: f64| {
        life.ln_excess_of_last_hazard(ln_age)
            .map_or(f64::NAN, |ln_excess| ln_excess - ln_target)
    };
    // Beyond this usage nobody is left and the cost no longer changes.
    let high = top.min(life.ln_usage_at(600.0));
    let at_high = gap(high);
    if at_high.is_nan() {
        return Err(DecisionError::NotConverged);
    }
    if at_high <= 0.0 {
        return Ok(None);
    }
    let mut low = high.min(life.location);
    let mut step = 1.0 / life.shape();
    for _ in 0..200 {
        let there = gap(low);
        if there.is_nan() {
            return Err(DecisionError::NotConverged);
        }
        if there <= 0.0 {
            return root(gap, low, high)
                .map(Some)
                .ok_or(DecisionError::NotConverged);
        }
        low -= step;
        step *= 1.5;
    }
    Err(DecisionError::OutOfRange)
}

impl RenewalAge {
    /// The ages about the best one whose cost rate stays within `share` above the lowest, as with 0.05 for five
    /// percent; the second is none where every later age does.
    ///
    /// # Errors
    /// For a share that is not finite and above 0, or when a number leaves its range.
    pub fn ages_within(&self, share: f64) -> Result<(f64, Option<f64>), DecisionError> {
        positive("share", share)?;
        let most = self.cost_rate * (1.0 + share);
        let gap = |ln_age: f64| {
            cost_rate(&self.life, self.costs, ln_age.exp()).map_or(f64::NAN, |rate| rate - most)
        };
        let best = self.age.ln();
        let first = walk(&gap, best, -1.0)?.ok_or(DecisionError::OutOfRange)?;
        let last = if most >= self.cost_run_to_failure {
            // It may still rise above and fall back, as a lognormal does.
            walk_to(&gap, best, self.life.ln_usage_at(600.0))?
        } else {
            walk(&gap, best, 1.0)?
        };
        Ok((first.exp(), last.map(f64::exp)))
    }
}

/// First crossing outwards from `from`.
fn walk(
    gap: &impl Fn(f64) -> f64,
    from: f64,
    direction: f64,
) -> Result<Option<f64>, DecisionError> {
    walk_to(gap, from, from + direction * 300.0)
}

fn walk_to(gap: &impl Fn(f64) -> f64, from: f64, last: f64) -> Result<Option<f64>, DecisionError> {
    let direction = (last - from).signum();
    let (mut near, mut step) = (from, 0.02);
    while (last - near) * direction > 0.0 {
        let far = if (last - near).abs() <= step {
            last
        } else {
            near + direction * step
        };
        let there = gap(far);
        if there.is_nan() {
            return Err(DecisionError::NotConverged);
        }
        if there >= 0.0 {
            return root(gap, near, far)
                .map(Some)
                .ok_or(DecisionError::NotConverged);
        }
        near = far;
        step *= 1.05;
    }
    Ok(None)
}
