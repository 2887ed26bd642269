//! Survival from intervals, with or without late entry (Turnbull 1976, JRSS B 38).
//!
//! The best curve falls in innermost intervals only. It is described by the cumulative hazard gained in each: then
//! the likelihood is concave with late entry as without. It is found by alternating steps of expectation and
//! maximisation on the hazards with iterative convex minorants (Wellner and Zhan 1997, JASA 92), and accepted only
//! at the gradient condition (Gentleman and Geyer 1994, Biometrika 81).

use super::EstimateError;
use super::innermost::{Support, support};
use super::isotonic::isotonic;
use super::newton;
use crate::sample::Sample;
use crate::special::vector::{exp_m1_all, ln_all};
use crate::summation::Sum;
use crate::warning::{Warning, WarningCode};

/// Relative slack of the gradient condition.
const SLACK: f64 = 1e-9;
/// Hazards at or below this are on their way to zero.
const NO_HAZARD: f64 = 1e-11;
/// Hazard in one interval after which nobody is left.
const ALL_FAILED: f64 = 36.0;
const MOST_ROUNDS: u32 = 5_000;
/// Rounds before steps on all hazards together are tried.
const PATIENCE: u32 = 150;

/// Nonparametric maximum likelihood estimate from interval-censored lives.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnbullCurve {
    /// Intervals that carry probability, in order. Where inside an interval it lies cannot be told.
    pub support: Vec<SupportInterval>,
    /// Logarithm of the likelihood at the maximum.
    pub log_likelihood: f64,
    /// Largest excess of the gradient over its bound, relative to the lives at risk: 0 at the exact maximum.
    pub gradient_excess: f64,
    /// Cautions about the curve.
    pub warnings: Vec<Warning>,
}

/// An innermost interval and the share of failures in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SupportInterval {
    /// Usage after which the share fails; equal to `by` for an exact usage.
    pub after: f64,
    /// Usage by which it has failed; none means never seen.
    pub by: Option<f64>,
    /// Share of all lives that fail within the interval.
    pub probability: f64,
    /// Survival after the interval.
    pub survival_after: f64,
}

impl TurnbullCurve {
    /// Smallest usage known to have survival at or below `1 - p`: the end of an interval; none if never reached.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let level = (1.0 - p) * (1.0 + 1e-12);
        self.support
            .iter()
            .find(|interval| interval.survival_after <= level)
            .and_then(|interval| interval.by)
    }
}

/// Nonparametric curve under any mixture of censoring and late entry; with late entry it is conditional on survival
/// to the earliest entry.
///
/// # Errors
/// For an empty sample, or a search that does not finish.
pub fn turnbull(sample: &Sample) -> Result<TurnbullCurve, EstimateError> {
    if sample.lives() == 0 {
        return Err(EstimateError::NoLives);
    }
    let support = support(sample);
    let mut state = State::start(&support);
    for round in 0..MOST_ROUNDS {
        state.minorant_step(&support);
        state.expectation_step(&support);
        let excess = if round < PATIENCE {
            state.gradient_excess(&support)
        } else {
            state.newton_step(&support)
        };
        if excess <= SLACK {
            return Ok(curve(sample, &support, &state, excess));
        }
    }
    Err(EstimateError::NotConverged)
}

/// Cumulative hazard gained in each interval.
struct State {
    gained: Vec<f64>,
    /// Cumulative hazard before each interval and, last, after all.
    before: Vec<Sum>,
    /// For each failure the hazard gained over its run, and the share that fails of it.
    gains: Vec<f64>,
    shares: Vec<f64>,
}

/// Kept as sums, because small gains late are differences of large ones.
fn cumulative(gained: &[f64]) -> Vec<Sum> {
    let mut sum = Sum::default();
    let mut sums = Vec::with_capacity(gained.len() + 1);
    sums.push(sum);
    for gain in gained {
        sum.add(*gain);
        sums.push(sum);
    }
    sums
}

impl State {
    fn start(support: &Support) -> Self {
        let share = 1.0 / (support.intervals.len() + 1) as f64;
        Self::of(vec![share; support.intervals.len()], support)
    }

    fn of(mut gained: Vec<f64>, support: &Support) -> Self {
        // Where nobody is known to have passed, all the hazard there can be is best.
        for (gained, unfailed) in gained.iter_mut().zip(&support.unfailed) {
            if *unfailed <= 0.0 {
                *gained = ALL_FAILED;
            }
        }
        let before = cumulative(&gained);
        let at = |place: usize| before.get(place).copied().unwrap_or_default();
        let gains: Vec<f64> = support
            .rows
            .iter()
            .map(|run| at(run.end).less(&at(run.start)))
            .collect();
        let mut shares: Vec<f64> = gains.iter().map(|gain| -gain).collect();
        exp_m1_all(&mut shares);
        for share in &mut shares {
            *share = -*share;
        }
        Self {
            gained,
            before,
            gains,
            shares,
        }
    }

    fn log_likelihood(&self, support: &Support) -> f64 {
        let mut sum = Sum::default();
        let mut logs = self.shares.clone();
        ln_all(&mut logs);
        for (run, ln) in support.rows.iter().zip(logs) {
            sum.add(run.count as f64 * ln);
        }
        for (unfailed, gain) in support.unfailed.iter().zip(&self.gained) {
            sum.add(-unfailed * gain);
        }
        sum.total()
    }

    /// Sum over the failures that may lie in each interval of `count / (exp(gain) - 1)`.
    fn pulls(&self, support: &Support) -> Vec<f64> {
        let m = self.gained.len();
        let mut pulls = vec![0.0; m];
        let mut changes = vec![0.0; m + 1];
        for (run, share) in support.rows.iter().zip(&self.shares) {
            let pull = run.count as f64 * ((1.0 - share) / share);
            if support.short_runs {
                for slot in pulls.get_mut(run.start..run.end).unwrap_or_default() {
                    *slot += pull;
                }
                continue;
            }
            if let Some(change) = changes.get_mut(run.start) {
                *change += pull;
            }
            if let Some(change) = changes.get_mut(run.end) {
                *change -= pull;
            }
        }
        let mut level = Sum::default();
        for (pull, change) in pulls.iter_mut().zip(changes) {
            level.add(change);
            *pull += level.total();
        }
        pulls
    }

    /// How far the gradient breaks its bound: at most zero everywhere, and zero where there is hazard.
    fn gradient_excess(&self, support: &Support) -> f64 {
        let at_risk = support.unfailed.iter().zip(&support.covered);
        self.pulls(support)
            .iter()
            .zip(at_risk)
            .zip(&self.gained)
            .map(|((pull, (unfailed, covered)), gained)| {
                let over = (pull - unfailed) / (unfailed + covered);
                if *gained > NO_HAZARD && *gained < ALL_FAILED {
                    over.abs()
                } else if *gained >= ALL_FAILED {
                    (-over).max(0.0)
                } else {
                    over.max(0.0)
                }
            })
            .fold(0.0, f64::max)
    }

    /// Shares every failure out over its run by the curve so far; the hazard of an interval is then failures over
    /// lives at risk. Lives that enter late need no ghosts.
    fn expectation_step(&mut self, support: &Support) {
        let shared = if support.short_runs {
            self.shared_one_by_one(support)
        } else {
            self.shared_in_passing(support)
        };
        let fresh = shared
            .iter()
            .zip(&support.unfailed)
            .map(|((failing, yet_to_fail), unfailed)| {
                let passing = unfailed + (yet_to_fail - failing).max(0.0);
                // -ln(1 - failing / at risk), whether hardly anybody fails or hardly anybody is left.
                let gained = if passing > 0.0 {
                    (failing / passing).ln_1p()
                } else {
                    ALL_FAILED
                };
                gained.min(ALL_FAILED)
            })
            .collect();
        *self = Self::of(fresh, support);
    }

    /// Expected failures in each interval, and of those whose run covers it, the expected number still to fail at
    /// its beginning: every failure's share in every interval of its run.
    fn shared_one_by_one(&self, support: &Support) -> Vec<(f64, f64)> {
        let mut shared = vec![(0.0, 0.0); self.gained.len()];
        for (run, share) in support.rows.iter().zip(&self.shares) {
            let scale = run.count as f64 / share;
            let place = |at: usize| self.before.get(at).copied().unwrap_or_default();
            let (start, end) = (place(run.start), place(run.end));
            let slots = shared.get_mut(run.start..run.end).unwrap_or_default();
            let gains = self.gained.get(run.start..run.end).unwrap_or_default();
            let befores = self.before.get(run.start..run.end).unwrap_or_default();
            let single = run.end == run.start + 1;
            for ((slot, gained), before) in slots.iter_mut().zip(gains).zip(befores) {
                let passed = (-before.less(&start)).exp();
                slot.0 += if single {
                    run.count as f64
                } else {
                    scale * passed * -(-gained).exp_m1()
                };
                slot.1 += if single {
                    run.count as f64
                } else {
                    scale * passed * -(-end.less(before)).exp_m1()
                };
            }
        }
        shared
    }

    /// The same for long runs, by running sums. They lose digits where counts differ by many orders.
    fn shared_in_passing(&self, support: &Support) -> Vec<(f64, f64)> {
        let m = self.gained.len();
        let (mut begun, mut ended) = (vec![0.0; m + 1], vec![0.0; m + 1]);
        let (mut starting, mut ending) = (vec![0_u64; m + 1], vec![0_u64; m + 1]);
        let mut alone = vec![0_u64; m + 1];
        for (run, share) in support.rows.iter().zip(&self.shares) {
            if run.end == run.start + 1 {
                if let Some(slot) = alone.get_mut(run.start) {
                    *slot += run.count;
                }
                continue;
            }
            let weight = run.count as f64 / share;
            for (slots, place, value) in [
                (&mut begun, run.start, weight),
                (&mut ended, run.end, weight * (1.0 - share)),
            ] {
                if let Some(slot) = slots.get_mut(place) {
                    *slot += value;
                }
            }
            for (slots, place) in [(&mut starting, run.start), (&mut ending, run.end)] {
                if let Some(slot) = slots.get_mut(place) {
                    *slot += run.count;
                }
            }
        }
        // The weight of the failures begun, relative to survival at the start of each interval.
        let mut alive = 0.0_f64;
        let mut yet_to_fail = Sum::default();
        let mut covering = 0_u64;
        let mut shared = Vec::with_capacity(m);
        let flows = begun.iter().zip(&ended).zip(starting.iter().zip(&ending));
        for (((begun, ended), (starting, ending)), (gained, alone)) in
            flows.zip(self.gained.iter().zip(&alone))
        {
            covering = (covering + starting).saturating_sub(*ending);
            alive = (alive - ended).max(0.0) + begun;
            yet_to_fail.add(*starting as f64);
            if covering == 0 {
                (alive, yet_to_fail) = (0.0, Sum::default());
            }
            let failing = alive * -(-gained).exp_m1();
            let alone = *alone as f64;
            shared.push((failing + alone, yet_to_fail.total().max(failing) + alone));
            yet_to_fail.add(-failing);
            alive *= (-gained).exp();
        }
        shared
    }

    /// A Newton step on all hazards together, kept if it meets the gradient condition better; gives how far the
    /// gradient then breaks it.
    fn newton_step(&mut self, support: &Support) -> f64 {
        let excess = self.gradient_excess(support);
        if excess <= SLACK || !support.short_runs {
            return excess;
        }
        let slopes: Vec<f64> = self
            .pulls(support)
            .iter()
            .zip(&support.unfailed)
            .map(|(pull, unfailed)| pull - unfailed)
            .collect();
        let moving: Vec<usize> = self
            .gained
            .iter()
            .zip(&slopes)
            .enumerate()
            .filter(|(_, (gained, slope))| {
                **gained < ALL_FAILED && (**gained > NO_HAZARD || **slope > 0.0)
            })
            .map(|(place, _)| place)
            .collect();
        let before = self.log_likelihood(support);
        for share in [1.0, 0.5, 0.1] {
            let Some(next) =
                newton::moved(support, &self.gained, &self.gains, &slopes, &moving, share)
            else {
                break;
            };
            let next = next.iter().map(|gain| gain.min(ALL_FAILED)).collect();
            let next = Self::of(next, support);
            let (there, after) = (next.gradient_excess(support), next.log_likelihood(support));
            if there < excess && after >= before - 1e-9 * (1.0 + before.abs()) {
                *self = next;
                return there;
            }
        }
        excess
    }

    /// One Newton step on the cumulative hazard with a diagonal second derivative, projected on increasing functions
    /// and shortened until the likelihood does not fall.
    fn minorant_step(&mut self, support: &Support) {
        let m = self.gained.len();
        let (mut slopes, mut weights) = (vec![0.0; m + 1], vec![0.0; m + 1]);
        for (run, share) in support.rows.iter().zip(&self.shares) {
            let pull = (1.0 - share) / share;
            for (place, sign) in [(run.end, 1.0), (run.start, -1.0)] {
                if let (Some(slope), Some(weight)) = (slopes.get_mut(place), weights.get_mut(place))
                {
                    *slope += sign * run.count as f64 * pull;
                    *weight += run.count as f64 * pull * (1.0 + pull);
                }
            }
        }
        // Lives unfailed over an interval weigh on its end and lift its beginning.
        let mut last = 0.0;
        for (place, unfailed) in support.unfailed.iter().chain([&0.0]).enumerate() {
            if let Some(slope) = slopes.get_mut(place) {
                *slope += unfailed - last;
            }
            last = *unfailed;
        }
        let inner = |values: &[f64]| -> Vec<f64> { values.iter().skip(1).copied().collect() };
        let now: Vec<f64> = self.before.iter().skip(1).map(Sum::total).collect();
        let slopes = inner(&slopes);
        let weights: Vec<f64> = inner(&weights)
            .iter()
            .zip(&slopes)
            .map(|(weight, slope)| weight.max(slope.abs()).max(1e-300))
            .collect();
        let wished: Vec<f64> = now
            .iter()
            .zip(&slopes)
            .zip(&weights)
            .map(|((now, slope), weight)| now + slope / weight)
            .collect();
        let target = isotonic(&wished, &weights);
        let before = self.log_likelihood(support);
        let mut share = 1.0;
        while share > 1e-6 {
            let mut last = 0.0_f64;
            let tried: Vec<f64> = now
                .iter()
                .zip(&target)
                .map(|(from, to)| {
                    // Written so that equal targets give exactly equal sums.
                    let to = to.max(0.0);
                    let sum = if share < 1.0 {
                        from + share * (to - from)
                    } else {
                        to
                    };
                    let gain = (sum - last).clamp(0.0, ALL_FAILED);
                    last = sum;
                    gain
                })
                .collect();
            let tried = Self::of(tried, support);
            let after = tried.log_likelihood(support);
            if after.is_finite() && after >= before {
                *self = tried;
                return;
            }
            share *= 0.5;
        }
    }
}

fn curve(sample: &Sample, support: &Support, state: &State, gradient_excess: f64) -> TurnbullCurve {
    let mut intervals = Vec::new();
    let mut survival = 1.0_f64;
    let mut stopped = None;
    for ((after, by), gained) in support.intervals.iter().zip(&state.gained) {
        if *gained <= NO_HAZARD || survival <= 0.0 {
            continue;
        }
        let all = *gained >= ALL_FAILED - 1.0;
        let left = if all { 0.0 } else { survival * (-gained).exp() };
        intervals.push(SupportInterval {
            after: *after,
            by: Some(*by),
            probability: survival - left,
            survival_after: left,
        });
        survival = left;
        if all {
            stopped = Some(*by);
        }
    }
    let longest = sample.columns().lower.last().copied().unwrap_or(0.0);
    if survival > 0.0 {
        intervals.push(SupportInterval {
            after: longest,
            by: None,
            probability: survival,
            survival_after: 0.0,
        });
    }
    TurnbullCurve {
        support: intervals,
        log_likelihood: state.log_likelihood(support),
        gradient_excess,
        warnings: cautions(sample, stopped),
    }
}

/// Where lives entered late the curve may stop early, or pass over usage that nobody was watched at.
fn cautions(sample: &Sample, stopped: Option<f64>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if sample.delayed_entry() == 0 {
        return warnings;
    }
    if let Some(stop) = stopped
        && sample
            .observations()
            .any(|life| life.lower > stop || (life.entry >= stop && life.upper.is_finite()))
    {
        warnings.push(Warning::new(
            WarningCode::CurveStopsEarly,
            format!(
                "By usage {stop} every life then at risk had failed, so the curve is 0 from there although later lives follow. Look at survival given survival to a later usage instead."
            ),
        ));
    }
    let mut spans: Vec<(f64, f64)> = sample
        .observations()
        .map(|life| {
            (
                life.entry,
                if life.upper.is_finite() {
                    life.upper
                } else {
                    life.lower
                },
            )
        })
        .collect();
    spans.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut reached = spans.first().map_or(0.0, |span| span.0);
    for (from, to) in spans {
        if from > reached {
            warnings.push(Warning::new(
                WarningCode::EarlyEmptyRiskSet,
                format!("From usage {reached} to {from} nobody was at risk; the curve says nothing about that stretch."),
            ));
            break;
        }
        reached = reached.max(to);
    }
    warnings
}
