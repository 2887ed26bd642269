//! Limits for gamma, generalised gamma and threshold Weibull, against a search over all parameters.

#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a failed test may panic"
)]

use proptest::prelude::*;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{
    Fit, LifeDistribution, ThresholdLikelihood, fit, threshold_weibull,
};
use wearbook_analysis::intervals::{
    Level, Limits, LimitsError, Method, Quantity, Resampling, confidence_below, limits,
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
        // The place of the top need not be known well: it only has to lie inside.
        let golden = 0.381_966_011_250_105_1;
        let (mut low, mut high) = (around - 6.0, around + 6.0);
        for _ in 0..34 {
            let (a, b) = (low + golden * (high - low), high - golden * (high - low));
            let (at_a, at_b) = (self.value(a, others), self.value(b, others));
            if at_a >= self.floor || at_b >= self.floor {
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
            for _ in 0..42 {
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
    for quantity in asked {
        let found = ratio(sample, fit, *quantity, level);
        for (up, limit) in [(false, found.lower), (true, found.upper)] {
            let limit = limit.unwrap_or_else(|| panic!("{:?} {quantity:?} {up}", fit.family));
            let want = brute.furthest(fit, *quantity, up, bound);
            let size = want.abs();
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

#[test]
fn ball_bearings() {
    let sample = bearings();
    let level = Level::TWO_SIDED_90;
    // By the search of these tests over all parameters.
    let b10 = [
        (Family::Gamma, 21.681_058_6, 40.704_677_4),
        (Family::GeneralisedGamma, 21.131_609_1, 40.606_558_4),
        (Family::ThresholdWeibull, 21.711_742_7, 38.850_421_8),
    ];
    for (family, lower, upper) in b10 {
        let fit = fit(&sample, family).expect("a fit");
        let found = ratio(&sample, &fit, Quantity::Quantile(0.1), level);
        let close = |found: Option<f64>, want: f64| (found.unwrap() / want - 1.0).abs() < 1e-7;
        assert!(close(found.lower, lower), "{family:?} {found:?}");
        assert!(close(found.upper, upper), "{family:?} {found:?}");
    }
}

/// Level of a two-sided limit of a family within another, with the fall counted from the top of the other.
fn level_within(whole: &Fit, part: &Fit, distance: f64) -> Option<Level> {
    let left = distance.powi(2) - 2.0 * (whole.log_likelihood - part.log_likelihood);
    (left > 0.0).then(|| Level::two_sided(2.0 * normal::lower_tail(left.sqrt()) - 1.0).unwrap())
}

fn contains(sample: &Sample, whole: &Fit, part: &Fit, level: Level, distance: f64) {
    let Some(inner_level) = level_within(whole, part, distance) else {
        return;
    };
    let usage = part.quantile(0.4).unwrap();
    for quantity in [
        Quantity::Quantile(0.1),
        Quantity::Survival(usage),
        Quantity::Hazard(usage),
        Quantity::ConditionalSurvival {
            age: usage,
            span: 0.5 * usage,
        },
        Quantity::Span {
            age: usage,
            share: 0.1,
        },
    ] {
        let Ok(outer) = limits(sample, whole, quantity, level, Method::LikelihoodRatio) else {
            continue;
        };
        let inner = ratio(sample, part, quantity, inner_level);
        // The search along the third parameter settles to about this.
        let slack = |limit: f64| 1e-6 * limit.abs();
        if let (Some(outer), Some(inner)) = (outer.lower, inner.lower) {
            assert!(
                outer <= inner + slack(inner),
                "{whole:?} {part:?} {quantity:?} {outer} {inner}"
            );
        }
        if let (Some(outer), Some(inner)) = (outer.upper, inner.upper) {
            assert!(
                outer >= inner - slack(inner),
                "{whole:?} {part:?} {quantity:?} {outer} {inner}"
            );
        }
        // A side open in the part is open in the whole.
        assert!(
            outer.lower.is_none() || inner.lower.is_some(),
            "{quantity:?} {outer:?} {inner:?}"
        );
        assert!(
            outer.upper.is_none() || inner.upper.is_some(),
            "{quantity:?} {outer:?} {inner:?}"
        );
    }
}

const NESTED: [(Family, Family); 5] = [
    (Family::GeneralisedGamma, Family::Weibull),
    (Family::GeneralisedGamma, Family::Lognormal),
    (Family::GeneralisedGamma, Family::Gamma),
    (Family::Gamma, Family::Exponential),
    (Family::ThresholdWeibull, Family::Weibull),
];

#[test]
fn limits_contain_those_of_the_families_within() {
    let level = Level::TWO_SIDED_95;
    for sample in [bearings(), mixed()] {
        for (whole, part) in NESTED {
            let (Ok(whole), Ok(part)) = (fit(&sample, whole), fit(&sample, part)) else {
                continue;
            };
            if whole
                .warnings
                .iter()
                .any(|warning| warning.code == WarningCode::RecordingPrecision)
            {
                continue;
            }
            contains(&sample, &whole, &part, level, normal::quantile(0.975));
        }
    }
}

#[test]
fn limits_widen_with_the_level() {
    for sample in [bearings(), mixed()] {
        for family in FREE {
            let Ok(fit) = fit(&sample, family) else {
                continue;
            };
            for quantity in questions(family) {
                for method in [Method::LikelihoodRatio, Method::Delta] {
                    let mut last: Option<Limits> = None;
                    for level in [0.5, 0.8, 0.95, 0.99] {
                        let level = Level::two_sided(level).unwrap();
                        let Ok(found) = limits(&sample, &fit, quantity, level, method) else {
                            assert_eq!(method, Method::Delta, "{family:?} {quantity:?}");
                            continue;
                        };
                        if let Some(last) = last {
                            let lower = found.lower.unwrap_or(f64::NEG_INFINITY);
                            let upper = found.upper.unwrap_or(f64::INFINITY);
                            assert!(lower <= last.lower.unwrap_or(f64::NEG_INFINITY));
                            assert!(upper >= last.upper.unwrap_or(f64::INFINITY));
                        }
                        last = Some(found);
                    }
                }
            }
        }
    }
}

#[test]
fn a_change_of_unit_changes_nothing_else() {
    let level = Level::TWO_SIDED_90;
    for family in FREE {
        let unit = 1024.0;
        let here = bearings();
        let there = Sample::new(BEARINGS.map(|usage| Observation::exact(usage * unit))).unwrap();
        let (fit_here, fit_there) = (fit(&here, family).unwrap(), fit(&there, family).unwrap());
        for method in [Method::LikelihoodRatio, Method::Delta] {
            let ask = |scale: f64, sample: &Sample, fit: &Fit| {
                [
                    (Quantity::Quantile(0.05), scale),
                    (Quantity::Survival(70.0 * scale), 1.0),
                    (Quantity::Hazard(70.0 * scale), 1.0 / scale),
                    (
                        Quantity::Span {
                            age: 60.0 * scale,
                            share: 0.1,
                        },
                        scale,
                    ),
                ]
                .map(|(quantity, by)| {
                    let found = limits(sample, fit, quantity, level, method).unwrap();
                    [found.lower.unwrap() / by, found.upper.unwrap() / by]
                })
            };
            let pairs = ask(1.0, &here, &fit_here)
                .into_iter()
                .flatten()
                .zip(ask(unit, &there, &fit_there).into_iter().flatten());
            for (a, b) in pairs {
                assert!((a / b - 1.0).abs() < 1e-6, "{family:?} {method:?} {a} {b}");
            }
        }
    }
}

#[test]
fn delta_agrees_with_a_gradient_in_the_natural_parameters() {
    let sample = bearings();
    let level = Level::TWO_SIDED_90;
    let z = normal::quantile(0.95);
    for family in FREE {
        let fit = fit(&sample, family).unwrap();
        let covariance = fit.covariance.clone().expect("a covariance");
        for (quantity, chance) in [
            (Quantity::Quantile(0.1), false),
            (Quantity::Hazard(75.0), false),
            (Quantity::Survival(75.0), true),
        ] {
            let scaled = |parameters: &[f64]| {
                let life = LifeDistribution::new(family, parameters).unwrap();
                let value = read(&life, parameters, quantity);
                if chance {
                    (-value.ln()).ln()
                } else {
                    value.ln()
                }
            };
            let gradient: Vec<f64> = (0..fit.parameters.len())
                .map(|place| {
                    let step = 1e-5 * fit.parameters[place].abs();
                    let at = |by: f64| {
                        let mut moved = fit.parameters.clone();
                        moved[place] += by;
                        scaled(&moved)
                    };
                    (at(step) - at(-step)) / (2.0 * step)
                })
                .collect();
            let mut variance = 0.0;
            for (i, row) in covariance.iter().enumerate() {
                for (j, cell) in row.iter().enumerate() {
                    variance += gradient[i] * cell * gradient[j];
                }
            }
            let reach = z * variance.sqrt();
            let at = scaled(&fit.parameters);
            let back = |at: f64| if chance { (-at.exp()).exp() } else { at.exp() };
            let found = limits(&sample, &fit, quantity, level, Method::Delta).unwrap();
            let ends = [back(at - reach), back(at + reach)];
            let (lower, upper) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
            assert!(
                (found.lower.unwrap() / lower - 1.0).abs() < 1e-5,
                "{family:?} {quantity:?}"
            );
            assert!(
                (found.upper.unwrap() / upper - 1.0).abs() < 1e-5,
                "{family:?} {quantity:?}"
            );
        }
    }
}

#[test]
fn one_side_is_one_side() {
    let sample = bearings();
    for family in FREE {
        let fit = fit(&sample, family).unwrap();
        let quantity = Quantity::Quantile(0.1);
        let both = ratio(&sample, &fit, quantity, Level::TWO_SIDED_90);
        let lower = ratio(&sample, &fit, quantity, Level::lower(0.95).unwrap());
        assert!((lower.lower.unwrap() / both.lower.unwrap() - 1.0).abs() < 1e-9);
        assert_eq!(lower.upper, None);
        assert!(lower.warnings.is_empty(), "{:?}", lower.warnings);
    }
}

#[test]
fn errors_say_what_helps() {
    let sample = bearings();
    let level = Level::TWO_SIDED_90;
    let drawn = Method::Bootstrap(Resampling {
        seed: 1,
        resamples: 199,
    });
    for family in FREE {
        let fit = fit(&sample, family).unwrap();
        for method in [Method::ModifiedRoot, drawn] {
            let error = limits(&sample, &fit, Quantity::Quantile(0.1), level, method).unwrap_err();
            assert_eq!(error, LimitsError::Family { family });
            assert!(error.to_string().contains("ask for the likelihood ratio"));
        }
        let ask = |quantity| limits(&sample, &fit, quantity, level, Method::LikelihoodRatio);
        assert_eq!(
            ask(Quantity::MeanResidualLife(50.0)).unwrap_err(),
            LimitsError::MeanOfFreeForm { family }
        );
        assert_eq!(
            ask(Quantity::Quantile(1.0)).unwrap_err(),
            LimitsError::Share { value: 1.0 }
        );
        assert!(matches!(
            ask(Quantity::Survival(-1.0)).unwrap_err(),
            LimitsError::Usage { .. }
        ));
        assert!(matches!(
            ask(Quantity::Parameter("rate")).unwrap_err(),
            LimitsError::Parameter { .. }
        ));
        assert_eq!(
            confidence_below(
                &sample,
                &fit,
                Quantity::Quantile(0.1),
                30.0,
                Method::LikelihoodRatio
            )
            .unwrap_err(),
            LimitsError::ConfidenceOfFreeForm { family }
        );
    }
}

#[test]
fn a_threshold_at_zero_has_limits_but_no_covariance() {
    // Of a falling hazard from the very beginning.
    let sample = Sample::new(
        [3.0, 20.0, 60.0, 110.0, 180.0, 260.0, 350.0, 420.0]
            .map(|usage| Observation::interval(usage - 3.0, usage + 20.0)),
    )
    .unwrap();
    let fit = fit(&sample, Family::ThresholdWeibull).unwrap();
    assert_eq!(fit.parameter("threshold"), Some(0.0));
    let level = Level::TWO_SIDED_90;
    let threshold = Quantity::Parameter("threshold");
    assert_eq!(
        limits(&sample, &fit, threshold, level, Method::Delta).unwrap_err(),
        LimitsError::NoCovariance
    );
    let found = ratio(&sample, &fit, threshold, level);
    assert_eq!(found.lower, Some(0.0));
    let upper = found.upper.unwrap();
    assert!(upper > 0.0 && upper <= 23.0, "{upper}");
    assert!(
        found
            .warnings
            .iter()
            .any(|warning| warning.code == WarningCode::ParameterAtBound)
    );
}

#[test]
fn a_report_shows_limits_by_the_likelihood_ratio() {
    let options = Options {
        families: FREE.to_vec(),
        ..Options::at(Level::TWO_SIDED_90)
    };
    let report = analyse(&bearings(), &options);
    for model in &report.models {
        for quantile in &model.quantiles {
            assert_eq!(quantile.kind, LimitsKind::LikelihoodRatio);
            let (lower, upper) = (quantile.lower.unwrap(), quantile.upper.unwrap());
            assert!(lower < quantile.value.unwrap() && quantile.value.unwrap() < upper);
        }
        for (name, parameter) in model.parameters.as_ref().unwrap() {
            assert_eq!(parameter.kind, LimitsKind::LikelihoodRatio, "{name}");
            assert!(
                parameter.lower.is_some() && parameter.upper.is_some(),
                "{name}"
            );
        }
        let said = |what: &str| {
            model.warnings.iter().any(|warning| {
                warning.code == WarningCode::LimitFailed && warning.message.contains(what)
            })
        };
        assert!(said("ask for the likelihood ratio"));
        assert!(said(
            "Its limits are those of the likelihood ratio instead."
        ));
    }
}

fn few_lives() -> impl Strategy<Value = Vec<Observation>> {
    let life = (1e-3..1.0_f64, 0u8..8, 0.0..0.95_f64, 1u64..3);
    (
        prop::collection::vec(life, 4..16),
        -0.7..2.0_f64,
        -3.0..5.0_f64,
    )
        .prop_map(|(lives, ln_shape, lg_scale)| {
            let (shape, scale) = (ln_shape.exp(), 10.0_f64.powf(lg_scale));
            lives
                .into_iter()
                .map(|(u, kind, part, count)| {
                    let t = scale * (-u.ln()).powf(1.0 / shape);
                    let life = match kind {
                        0..=3 => Observation::exact(t),
                        4 => Observation::right_censored(t),
                        5 => Observation::exact(t).entered_at(part * t),
                        6 => Observation::interval(part * t, t),
                        _ => Observation::right_censored(t).entered_at(part * t),
                    };
                    life.times(count)
                })
                .collect()
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn limits_enclose_the_estimate_and_those_within(lives in few_lives()) {
        let Ok(sample) = Sample::new(lives) else { return Ok(()) };
        let usage = 0.5 * sample.longest_usage();
        for family in FREE {
            let Ok(fit) = fit(&sample, family) else { continue };
            for quantity in [
                Quantity::Quantile(0.1),
                Quantity::Survival(usage),
                Quantity::Hazard(usage),
                Quantity::ConditionalSurvival { age: usage, span: usage },
                Quantity::Span { age: usage, share: 0.1 },
                Quantity::Parameter(family.parameter_names()[1]),
            ] {
                for method in [Method::LikelihoodRatio, Method::Delta] {
                    let found = limits(&sample, &fit, quantity, Level::TWO_SIDED_90, method);
                    let Ok(found) = found else {
                        let reason = found.unwrap_err();
                        prop_assert!(matches!(
                            reason,
                            LimitsError::NoCovariance
                                | LimitsError::NotConverged
                                | LimitsError::OutOfRange
                        ), "{reason}");
                        continue;
                    };
                    prop_assert!(found.value.is_finite());
                    prop_assert!(found.lower.is_none_or(|lower| lower.is_finite() && lower <= found.value));
                    prop_assert!(found.upper.is_none_or(|upper| upper.is_finite() && upper >= found.value));
                }
            }
        }
        for (whole, part) in NESTED {
            let (Ok(whole), Ok(part)) = (fit(&sample, whole), fit(&sample, part)) else { continue };
            if whole.warnings.iter().any(|warning| matches!(
                warning.code,
                WarningCode::RecordingPrecision | WarningCode::LocalMaximum
            )) {
                continue;
            }
            contains(&sample, &whole, &part, Level::TWO_SIDED_90, normal::quantile(0.95));
        }
    }
}
