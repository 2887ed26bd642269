//! Limits for gamma, generalised gamma and threshold Weibull, against a search over all parameters.

use proptest::prelude::*;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{
    Fit, FitError, LifeDistribution, ThresholdLikelihood, fit, threshold_weibull,
};
use wearbook_analysis::intervals::{
    Level, Limits, LimitsError, Method, Quantity, Resampling, limits,
};
use wearbook_analysis::observation::{Ending, Observation};
use wearbook_analysis::report::{LimitsKind, Options, analyse};
use wearbook_analysis::sample::Sample;
use wearbook_analysis::special::normal;
use wearbook_analysis::warning::WarningCode;

const FREE: [Family; 3] = [
    Family::Gamma,
    Family::GeneralisedGamma,
    Family::ThresholdWeibull,
];

/// Million revolutions to failure of 23 ball bearings (Lieblein and Zelen 1956, Journal of Research NBS 57).
const BEARINGS: [f64; 23] = [
    17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.40, 51.84, 51.96, 54.12, 55.56, 67.80, 68.64,
    68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40,
];

fn bearings() -> Sample {
    Sample::new(BEARINGS.map(Observation::exact)).expect("valid lives")
}

/// Few lives of every kind.
fn mixed() -> Sample {
    Sample::new([
        Observation::exact(31.0),
        Observation::exact(55.0).entered_at(20.0),
        Observation::interval(60.0, 80.0),
        Observation::exact(97.0).times(2),
        Observation::right_censored(100.0).times(3),
        Observation::exact(140.0).entered_at(35.0),
        Observation::left_censored(70.0),
        Observation::right_censored(160.0).entered_at(90.0),
        Observation::exact(210.0),
    ])
    .expect("valid lives")
}

/// Log-likelihood from survival and hazard alone; exact usages to within half a precision where one is given.
fn log_likelihood(sample: &Sample, life: &LifeDistribution, precision: Option<f64>) -> f64 {
    sample
        .observations()
        .map(|row| {
            let between = |from: f64, to: f64| life.survival(from) - life.survival(to);
            let term = match (row.ending(), precision) {
                (Ending::Exact, None) => {
                    life.hazard(row.lower).unwrap_or(0.0) * life.survival(row.lower)
                }
                (Ending::Exact, Some(precision)) => {
                    let from = (row.lower - 0.5 * precision).max(row.entry);
                    let to = row.lower + 0.5 * precision;
                    between(from, to) / (to - from)
                }
                (Ending::RightCensored, _) => life.survival(row.lower),
                _ => between(row.lower, row.upper),
            };
            row.count as f64 * (term / life.survival(row.entry)).ln()
        })
        .sum()
}

fn read(life: &LifeDistribution, parameters: &[f64], quantity: Quantity) -> f64 {
    match quantity {
        Quantity::Quantile(p) => life.quantile(p).unwrap(),
        Quantity::Survival(t) => life.survival(t),
        Quantity::Hazard(t) => life.hazard(t).unwrap(),
        Quantity::ConditionalSurvival { age, span } => {
            life.survival(age + span) / life.survival(age)
        }
        Quantity::Span { age, share } => life.span_for_risk(age, share).unwrap(),
        Quantity::MeanResidualLife(_) => unreachable!(),
        Quantity::Parameter(name) => {
            let names = life.family().parameter_names();
            parameters[names.iter().position(|known| *known == name).unwrap()]
        }
    }
}

/// Highest value between two places, by golden sections.
fn golden(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let part = 0.381_966_011_250_105_1;
    let (mut a, mut b) = (low + part * (high - low), high - part * (high - low));
    let (mut at_a, mut at_b) = (f(a), f(b));
    let mut best = f(low).max(f(high)).max(at_a).max(at_b);
    for _ in 0..38 {
        if at_a > at_b {
            high = b;
            (b, at_b) = (a, at_a);
            a = low + part * (high - low);
            at_a = f(a);
        } else {
            low = a;
            (a, at_a) = (b, at_b);
            b = high - part * (high - low);
            at_b = f(b);
        }
        best = best.max(at_a).max(at_b);
    }
    best
}

/// A family by a parameter that moves all usages since the threshold, and the others.
struct Brute<'a> {
    sample: &'a Sample,
    family: Family,
    precision: Option<f64>,
    floor: f64,
}

impl Brute<'_> {
    fn parameters(&self, ln_usage: f64, others: [f64; 2]) -> Vec<f64> {
        let [a, b] = others;
        match self.family {
            Family::Gamma => vec![a.exp(), ln_usage.exp()],
            Family::GeneralisedGamma => vec![ln_usage, a.exp(), b],
            _ => vec![ln_usage.exp(), a.exp(), b],
        }
    }

    fn value(&self, ln_usage: f64, others: [f64; 2]) -> f64 {
        match LifeDistribution::new(self.family, &self.parameters(ln_usage, others)) {
            Ok(life) => {
                let value = log_likelihood(self.sample, &life, self.precision);
                if value.is_nan() {
                    f64::NEG_INFINITY
                } else {
                    value
                }
            }
            Err(_) => f64::NEG_INFINITY,
        }
    }

    /// Both ends of the region along the usage, with the other parameters held.
    fn ends(&self, around: f64, others: [f64; 2]) -> Option<[f64; 2]> {
        let golden = 0.381_966_011_250_105_1;
        let (mut low, mut high) = (around - 6.0, around + 6.0);
        for _ in 0..60 {
            let (a, b) = (low + golden * (high - low), high - golden * (high - low));
            let (at_a, at_b) = (self.value(a, others), self.value(b, others));
            if at_a >= self.floor || at_b >= self.floor {
                // Inside: the top itself is not needed.
                low = if at_a >= self.floor { a } else { b };
                high = low;
                break;
            }
            if at_a > at_b {
                high = b;
            } else {
                low = a;
            }
        }
        let inside = 0.5 * (low + high);
        if self.value(inside, others) < self.floor {
            return None;
        }
        Some([-9.0, 9.0].map(|away| {
            let (mut within, mut beyond) = (inside, inside + away);
            for _ in 0..46 {
                let middle = 0.5 * (within + beyond);
                if self.value(middle, others) >= self.floor {
                    within = middle;
                } else {
                    beyond = middle;
                }
            }
            within
        }))
    }

    /// The highest likelihood with one of the others held.
    fn profile(&self, place: usize, held: f64, around: f64, other: [f64; 2]) -> f64 {
        let along = |free: f64| {
            let others = if place == 0 {
                [held, free]
            } else {
                [free, held]
            };
            golden(around - 6.0, around + 6.0, |usage| {
                self.value(usage, others)
            })
        };
        if self.family == Family::Gamma {
            along(0.0)
        } else {
            golden(other[0], other[1], along)
        }
    }

    /// The furthest value of a parameter that is held along the usage, by halving.
    fn furthest_held(&self, place: usize, from: [f64; 3], up: bool, bound: f64) -> f64 {
        let [around, a, b] = from;
        let (mut within, other) = match (place, self.family) {
            (0, Family::GeneralisedGamma) => (a, [b - 6.0, b + 6.0]),
            (0, _) => (a, [0.0, bound]),
            _ => (b, [a - 2.5, a + 2.5]),
        };
        let mut beyond = match (place, self.family, up) {
            (1, Family::ThresholdWeibull, false) => 0.0,
            (1, Family::ThresholdWeibull, true) => bound,
            (_, _, false) => within - 5.0,
            (_, _, true) => within + 5.0,
        };
        if self.profile(place, beyond, around, other) >= self.floor {
            return beyond;
        }
        for _ in 0..30 {
            let middle = 0.5 * (within + beyond);
            if self.profile(place, middle, around, other) >= self.floor {
                within = middle;
            } else {
                beyond = middle;
            }
        }
        within
    }

    /// The furthest value of a quantity in the region: a grid over the other parameters, closed in on its best place.
    fn furthest(&self, fit: &Fit, quantity: Quantity, up: bool, bound: f64) -> f64 {
        let life = fit.life();
        let [around, a, b] = match self.family {
            Family::Gamma => [fit.parameters[1].ln(), fit.parameters[0].ln(), 0.0],
            Family::GeneralisedGamma => {
                [fit.parameters[0], fit.parameters[1].ln(), fit.parameters[2]]
            }
            _ => [
                fit.parameters[0].ln(),
                fit.parameters[1].ln(),
                fit.parameters[2],
            ],
        };
        let from = [around, a, b];
        match (self.family, quantity) {
            (Family::Gamma | Family::ThresholdWeibull, Quantity::Parameter("shape"))
            | (_, Quantity::Parameter("sigma")) => {
                return self.furthest_held(0, from, up, bound).exp();
            }
            (_, Quantity::Parameter("q" | "threshold")) => {
                return self.furthest_held(1, from, up, bound);
            }
            _ => {}
        }
        let sign = if up { 1.0 } else { -1.0 };
        let mut best = (
            sign * read(&life, &fit.parameters, quantity),
            [a, b],
            around,
        );
        let mut reach = match self.family {
            Family::Gamma => [3.0, 0.0],
            Family::GeneralisedGamma => [2.5, 6.0],
            _ => [2.5, bound],
        };
        let steps = if self.family == Family::Gamma {
            (20, 0)
        } else {
            (6, 6)
        };
        for _ in 0..60 {
            let [a, b] = best.1;
            let around = best.2;
            for i in -steps.0..=steps.0 {
                for j in -steps.1..=steps.1 {
                    let part = |step: i32, of: i32| f64::from(step) / f64::from(of.max(1));
                    let mut others = [
                        a + reach[0] * part(i, steps.0),
                        b + reach[1] * part(j, steps.1),
                    ];
                    if self.family == Family::ThresholdWeibull {
                        others[1] = others[1].clamp(0.0, bound);
                    }
                    let Some(ends) = self.ends(around, others) else {
                        continue;
                    };
                    for end in ends {
                        let parameters = self.parameters(end, others);
                        let life = LifeDistribution::new(self.family, &parameters).unwrap();
                        let score = sign * read(&life, &parameters, quantity);
                        if score > best.0 {
                            best = (score, others, end);
                        }
                    }
                }
            }
            // A narrow region needs more than one look at each width.
            let moved =
                (best.1[0] - a).abs() > 0.3 * reach[0] || (best.1[1] - b).abs() > 0.3 * reach[1];
            if !moved {
                reach = reach.map(|width| 0.5 * width);
            }
            if reach[0] < 3e-7 {
                break;
            }
        }
        sign * best.0
    }
}

fn questions(family: Family) -> Vec<Quantity> {
    let mut asked = vec![
        Quantity::Quantile(0.1),
        Quantity::Survival(75.0),
        Quantity::Hazard(75.0),
        Quantity::ConditionalSurvival {
            age: 50.0,
            span: 25.0,
        },
        Quantity::Span {
            age: 50.0,
            share: 0.2,
        },
    ];
    asked.extend(
        family
            .parameter_names()
            .iter()
            .map(|name| Quantity::Parameter(name)),
    );
    asked
}

fn ratio(sample: &Sample, fit: &Fit, quantity: Quantity, level: Level) -> Limits {
    limits(sample, fit, quantity, level, Method::LikelihoodRatio)
        .unwrap_or_else(|error| panic!("{:?} {quantity:?}: {error}", fit.family))
}

fn agrees(sample: &Sample, fit: &Fit, precision: Option<f64>, bound: f64, asked: &[Quantity]) {
    let level = Level::TWO_SIDED_90;
    let z = normal::quantile(0.95);
    let brute = Brute {
        sample,
        family: fit.family,
        precision,
        floor: fit.log_likelihood - 0.5 * z * z,
    };
    if fit.family == Family::ThresholdWeibull {
        println!(
            "{:?}",
            ratio(sample, fit, Quantity::Parameter("threshold"), level)
        );
    }
    for quantity in asked {
        let found = ratio(sample, fit, *quantity, level);
        for (up, limit) in [(false, found.lower), (true, found.upper)] {
            let limit = limit.unwrap_or_else(|| panic!("{:?} {quantity:?} {up}", fit.family));
            let want = brute.furthest(fit, *quantity, up, bound);
            let size = want.abs();
            println!(
                "{:?} {quantity:?} up {up}: {limit} brute {want}",
                fit.family
            );
            assert!(
                (limit - want).abs() <= 1e-6 * size,
                "{:?} {quantity:?} up {up}: {limit} but by brute force {want}",
                fit.family
            );
        }
    }
}

#[test]
fn gamma_agrees_with_brute_force() {
    for sample in [mixed(), bearings()] {
        let fit = fit(&sample, Family::Gamma).expect("a fit");
        agrees(&sample, &fit, None, 0.0, &questions(Family::Gamma));
    }
}

#[test]
fn generalised_gamma_agrees_with_brute_force() {
    let sample = bearings();
    let fit = fit(&sample, Family::GeneralisedGamma).expect("a fit");
    agrees(
        &sample,
        &fit,
        None,
        0.0,
        &questions(Family::GeneralisedGamma),
    );
}

#[test]
fn threshold_weibull_agrees_with_brute_force() {
    let sample = bearings();
    let fit = fit(&sample, Family::ThresholdWeibull).expect("a fit");
    agrees(
        &sample,
        &fit,
        None,
        17.87,
        &questions(Family::ThresholdWeibull),
    );
}

#[test]
fn threshold_weibull_by_recording_agrees_with_brute_force() {
    let sample = Sample::new([
        Observation::exact(31.0),
        Observation::exact(33.0),
        Observation::exact(38.0).entered_at(20.0),
        Observation::interval(40.0, 80.0),
        Observation::exact(97.0).times(2),
        Observation::right_censored(100.0).times(3),
        Observation::exact(150.0),
        Observation::exact(320.0),
    ])
    .expect("valid lives");
    let precision = 2.0;
    let fit =
        threshold_weibull(&sample, ThresholdLikelihood::Recorded { precision }).expect("a fit");
    agrees(
        &sample,
        &fit,
        Some(precision),
        30.0,
        &questions(Family::ThresholdWeibull),
    );
}
