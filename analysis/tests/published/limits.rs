//! Limits for few failures: against exact ones, against brute force, and what must hold for any sample.

use crate::golden::{Agreement, cases, sample};
use proptest::prelude::*;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{Fit, fit};
use wearbook_analysis::intervals::{
    Level, Limits, LimitsError, Method, Quantity, Resampling, ShapeCorrection, Side,
    confidence_below, limits,
};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;
use wearbook_analysis::special::gamma::chi_square_upper;
use wearbook_analysis::special::normal;
use wearbook_analysis::warning::WarningCode;

const SMALL_SAMPLE: Method = Method::ModifiedRoot;

fn weibull_draws(random: &mut ChaCha8Rng, n: usize, shape: f64) -> Vec<f64> {
    let mut draws: Vec<f64> = (0..n)
        .map(|_| (-(-random.random::<f64>()).ln_1p()).powf(1.0 / shape))
        .collect();
    draws.sort_by(f64::total_cmp);
    draws
}

/// The first `r` of the draws failed, the rest was withdrawn at the last of them.
fn failure_censored(draws: &[f64], r: usize) -> Sample {
    let rows = draws.iter().enumerate().map(|(place, at)| {
        if place < r {
            Observation::exact(*at)
        } else {
            Observation::right_censored(draws[r - 1])
        }
    });
    Sample::new(rows).expect("valid lives")
}

fn quantities(fit: &Fit) -> Vec<Quantity> {
    let middle = fit.quantile(0.5).expect("a median");
    let mut all = vec![
        Quantity::Quantile(0.01),
        Quantity::Quantile(0.1),
        Quantity::Quantile(0.5),
        Quantity::Survival(middle),
        Quantity::Hazard(middle),
        Quantity::ConditionalSurvival {
            age: middle,
            span: 0.3 * middle,
        },
        Quantity::Span {
            age: middle,
            share: 0.1,
        },
    ];
    all.extend(
        fit.family
            .parameter_names()
            .iter()
            .map(|name| Quantity::Parameter(name)),
    );
    if fit.family != Family::Loglogistic {
        all.push(Quantity::MeanResidualLife(0.0));
        all.push(Quantity::MeanResidualLife(0.5 * middle));
    }
    all
}

/// Shapes by their logarithm with the logarithm of their conditional density, for complete and failure-censored
/// Weibull lives seen from new (Lawless 2003, section 5.1 and appendix E): `b^(r-2) prod t^b / (sum t^b)^r` in `b`.
/// Usages are taken relative to the longest, so that no power of all of them vanishes. Also the sum.
fn shape_densities(failed: &[f64], all: &[f64], step: f64) -> Vec<(f64, f64, f64)> {
    let longest = all.iter().copied().fold(0.0, f64::max);
    let r = failed.len() as f64;
    let logs: f64 = failed.iter().map(|t| (t / longest).ln()).sum();
    let mut ln_b = -6.0;
    let mut rows = Vec::new();
    while ln_b < 6.0 {
        let b = f64::exp(ln_b);
        let sum: f64 = all.iter().map(|t| (t / longest).powf(b)).sum();
        rows.push((ln_b, (r - 1.0) * ln_b + b * logs - r * sum.ln(), sum));
        ln_b += step;
    }
    rows
}

/// Exact conditional confidence that the usage by which a share `p` has failed lies below `x`: given the shape, the
/// hazard is a gamma of `r`.
fn exact_quantile_confidence(failed: &[f64], all: &[f64], p: f64, x: f64) -> f64 {
    let longest = all.iter().copied().fold(0.0, f64::max);
    let freedom = 2.0 * failed.len() as f64;
    let rows = shape_densities(failed, all, 0.004);
    let top = rows
        .iter()
        .map(|row| row.1)
        .fold(f64::NEG_INFINITY, f64::max);
    let (mut above, mut total) = (0.0, 0.0);
    for (ln_b, ln, sum) in rows {
        let weight = (ln - top).exp();
        if weight < 1e-14 {
            continue;
        }
        // The quantile lies below x where the hazard accumulated by x exceeds -ln(1 - p).
        let ln_needed = (-(-p).ln_1p() * sum).ln() - ln_b.exp() * (x / longest).ln();
        if ln_needed < 6.5 {
            above += weight * chi_square_upper(2.0 * ln_needed.exp(), freedom);
        }
        total += weight;
    }
    above / total
}

/// The same of the shape: confidence that it lies below `x`.
fn exact_shape_confidence(failed: &[f64], all: &[f64], x: f64) -> f64 {
    let rows = shape_densities(failed, all, 0.0005);
    let top = rows
        .iter()
        .map(|row| row.1)
        .fold(f64::NEG_INFINITY, f64::max);
    let (mut below, mut total) = (0.0, 0.0);
    for (ln_b, ln, _) in rows {
        let weight = (ln - top).exp();
        total += weight;
        if ln_b < x.ln() {
            below += weight;
        }
    }
    below / total
}

#[test]
fn complete_and_failure_censored_samples_have_the_exact_conditional_limits() {
    let mut random = ChaCha8Rng::seed_from_u64(11);
    for (n, r) in [(5, 5), (3, 3), (10, 5), (40, 4), (20, 20)] {
        let allowed = (0.2 / (r * r) as f64).max(0.002);
        for _ in 0..4 {
            let draws = weibull_draws(&mut random, n, 1.7);
            let sample = failure_censored(&draws, r);
            let fit = fit(&sample, Family::Weibull).expect("a fit");
            let all: Vec<f64> = draws.iter().map(|t| t.min(draws[r - 1])).collect();
            for (level, side) in [
                (0.9, Side::Lower),
                (0.95, Side::Lower),
                (0.9, Side::Upper),
                (0.95, Side::Upper),
            ] {
                let asked = Level::new(level, side).expect("a level");
                let limit = |quantity| {
                    let limits =
                        limits(&sample, &fit, quantity, asked, SMALL_SAMPLE).expect("limits");
                    limits.lower.or(limits.upper).expect("one side")
                };
                let want = if side == Side::Lower {
                    1.0 - level
                } else {
                    level
                };
                for p in [0.01, 0.1, 0.5] {
                    let got = exact_quantile_confidence(
                        &draws[..r],
                        &all,
                        p,
                        limit(Quantity::Quantile(p)),
                    );
                    // What the quadrature and the order of the correction leave: it shrinks with the square of r.
                    assert!(
                        (got - want).abs() < allowed,
                        "n {n} r {r} p {p}: {got} for {want}"
                    );
                }
                let got =
                    exact_shape_confidence(&draws[..r], &all, limit(Quantity::Parameter("shape")));
                assert!(
                    (got - want).abs() < allowed,
                    "n {n} r {r} shape: {got} for {want}"
                );
            }
        }
    }
}

#[test]
fn exponential_lives_until_failure_have_the_chi_square_limits() {
    for r in [1_u32, 2, 5, 20] {
        let lives = (1..=r).map(|i| Observation::exact(100.0 * f64::from(i)));
        let sample = Sample::new(lives).expect("valid");
        let fit = fit(&sample, Family::Exponential).expect("a fit");
        let usage = sample.total_usage();
        for (level, side) in [(0.9, Side::Lower), (0.95, Side::Upper)] {
            let asked = Level::new(level, side).expect("a level");
            let got = limits(
                &sample,
                &fit,
                Quantity::Parameter("mean"),
                asked,
                SMALL_SAMPLE,
            )
            .expect("limits");
            let mean = got.lower.or(got.upper).expect("one side");
            // 2 usage / mean is chi-square with 2r degrees.
            let below = chi_square_upper(2.0 * usage / mean, 2.0 * f64::from(r));
            let want = if side == Side::Lower {
                1.0 - level
            } else {
                level
            };
            assert!((below - want).abs() < 0.004, "r {r}: {below} for {want}");
        }
    }
}

#[test]
fn withdrawal_at_one_usage_puts_the_limits_of_a_mean_between_those_of_the_chi_square() {
    // Few of many fail: their number is Poisson, and 2r + 1 degrees halve the step of the exact limits.
    let mut lives: Vec<Observation> = [20.0, 45.0, 70.0].map(Observation::exact).to_vec();
    lives.push(Observation::right_censored(100.0).times(200));
    let sample = Sample::new(lives).expect("valid");
    let fit = fit(&sample, Family::Exponential).expect("a fit");
    for (level, side) in [(0.9, Side::Lower), (0.95, Side::Upper)] {
        let asked = Level::new(level, side).expect("a level");
        let got = limits(
            &sample,
            &fit,
            Quantity::Parameter("mean"),
            asked,
            SMALL_SAMPLE,
        )
        .expect("limits");
        let mean = got.lower.or(got.upper).expect("one side");
        let below = chi_square_upper(2.0 * sample.total_usage() / mean, 7.0);
        let want = if side == Side::Lower {
            1.0 - level
        } else {
            level
        };
        assert!((below - want).abs() < 0.004, "{below} for {want}");
    }
}

/// Meeker and Escobar 1998, section 8.4: normal on the logarithm of a quantile, and on the standard variable of survival.
#[test]
fn delta_limits_are_the_written_formulas() {
    for name in ["ball-bearings", "bearing-cage"] {
        let sample = sample(name);
        let fit = fit(&sample, Family::Weibull).expect("a fit");
        let covariance = fit.log_covariance.as_ref().expect("a covariance");
        let shape = fit.parameter("shape").expect("a shape");
        let scale = fit.parameter("scale").expect("a scale");
        for level in [Level::TWO_SIDED_90, Level::TWO_SIDED_95] {
            let reach = normal::quantile(0.5 + 0.5 * level.level());
            let by =
                |quantity| limits(&sample, &fit, quantity, level, Method::Delta).expect("limits");
            let near = |got: Option<f64>, want: f64| {
                let got = got.expect("a limit");
                assert!((got / want - 1.0).abs() < 1e-9, "{name} {got} {want}");
            };
            // ln t_p = ln scale + ln(-ln(1 - p)) / shape, in ln scale and ln shape.
            let step = (-(-0.1_f64).ln_1p()).ln() / shape;
            let error = variance(covariance, [1.0, -step]).sqrt();
            let (got, value) = (by(Quantity::Quantile(0.1)), (scale.ln() + step).exp());
            near(got.lower, value * (-reach * error).exp());
            near(got.upper, value * (reach * error).exp());
            // z = shape (ln t - ln scale), and survival exp(-exp(z)).
            let usage = 50.0_f64;
            let z = shape * (usage / scale).ln();
            let error = variance(covariance, [-shape, z]).sqrt();
            let got = by(Quantity::Survival(usage));
            near(got.lower, (-(z + reach * error).exp()).exp());
            near(got.upper, (-(z - reach * error).exp()).exp());
        }
    }
}

/// Variance of a linear form.
fn variance(covariance: &[Vec<f64>], by: [f64; 2]) -> f64 {
    let terms = covariance.iter().zip(by).flat_map(|(row, left)| {
        row.iter()
            .zip(by)
            .map(move |(cell, right)| left * cell * right)
    });
    terms.sum()
}

#[test]
fn all_methods_agree_for_many_failures() {
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let draws = weibull_draws(&mut random, 4_000, 2.0);
    let sample = Sample::new(draws.iter().map(|t| {
        if *t < 1.2 {
            Observation::exact(*t)
        } else {
            Observation::right_censored(1.2)
        }
    }))
    .expect("valid");
    let fit = fit(&sample, Family::Weibull).expect("a fit");
    for quantity in quantities(&fit) {
        let by =
            |method| limits(&sample, &fit, quantity, Level::TWO_SIDED_90, method).expect("limits");
        let want = by(Method::LikelihoodRatio);
        let width = want.upper.expect("upper") - want.lower.expect("lower");
        for method in [Method::Delta, Method::ModifiedRoot] {
            // Refused by the modified root.
            if method == Method::ModifiedRoot && matches!(quantity, Quantity::MeanResidualLife(_)) {
                continue;
            }
            let got = by(method);
            assert!(
                (got.lower.expect("lower") - want.lower.expect("lower")).abs() < 0.03 * width,
                "{quantity:?} {method:?}"
            );
            assert!(
                (got.upper.expect("upper") - want.upper.expect("upper")).abs() < 0.03 * width,
                "{quantity:?} {method:?}"
            );
        }
    }
}

#[test]
fn the_bootstrap_is_the_same_for_any_number_of_threads_and_near_the_modified_root() {
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let draws = weibull_draws(&mut random, 12, 1.5);
    let sample = Sample::new(draws.iter().map(|t| {
        if *t < 1.0 {
            Observation::exact(*t)
        } else {
            Observation::right_censored(1.0)
        }
    }))
    .expect("valid");
    let fit = fit(&sample, Family::Weibull).expect("a fit");
    let method = Method::Bootstrap(Resampling {
        seed: 9,
        resamples: 1_999,
    });
    let by = |threads| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("threads");
        pool.install(|| {
            limits(
                &sample,
                &fit,
                Quantity::Quantile(0.1),
                Level::TWO_SIDED_90,
                method,
            )
            .expect("limits")
        })
    };
    let (one, three) = (by(1), by(3));
    assert_eq!(one, three);
    let root = limits(
        &sample,
        &fit,
        Quantity::Quantile(0.1),
        Level::TWO_SIDED_90,
        SMALL_SAMPLE,
    )
    .expect("limits");
    let ratio =
        |a: Option<f64>, b: Option<f64>| (a.expect("a limit") / b.expect("a limit")).ln().abs();
    assert!(
        ratio(one.lower, root.lower) < 0.25 && ratio(one.upper, root.upper) < 0.15,
        "{one:?} {root:?}"
    );
    let other = Method::Bootstrap(Resampling {
        seed: 10,
        resamples: 1_999,
    });
    assert_ne!(
        one,
        limits(
            &sample,
            &fit,
            Quantity::Quantile(0.1),
            Level::TWO_SIDED_90,
            other
        )
        .expect("limits")
    );
}

#[test]
fn factors_of_the_shape_are_those_published_and_what_they_correct_is_so() {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    for case in cases(include_str!("../data/shape_bias.json")) {
        let name = case["id"].as_str().expect("a name");
        let (n, r) = (
            case["n"].as_u64().expect("n"),
            case["r"].as_u64().expect("r"),
        );
        let mut agreement = Agreement::default();
        for (correction, key) in [
            (ShapeCorrection::RossMean, "ross_factor"),
            (ShapeCorrection::C4Mean, "c4_factor_mean_power_6"),
            (ShapeCorrection::C4Median, "c4_factor_median_power_3_5"),
        ] {
            agreement.option(key, correction.factor(r, n), &case[key], 1e-9, 0.0);
        }
        let draws = 20_000;
        let mut ratios: Vec<f64> = (0..draws)
            .map(|_| {
                let lives = weibull_draws(&mut random, usize::try_from(n).expect("few"), 2.0);
                let sample = failure_censored(&lives, usize::try_from(r).expect("few"));
                fit(&sample, Family::Weibull)
                    .expect("a fit")
                    .parameter("shape")
                    .expect("shape")
                    / 2.0
            })
            .collect();
        ratios.sort_by(f64::total_cmp);
        let mean = ratios.iter().sum::<f64>() / f64::from(draws);
        // Four standard errors of both simulations together, theirs of 400,000 samples.
        let error =
            case["mc_se"].as_f64().expect("an error") * (400_000.0 / f64::from(draws) + 1.0).sqrt();
        let wants = |key: &str| case[key].as_f64().expect("a ratio");
        assert!(
            (mean - wants("mean_ratio")).abs() < 4.0 * error,
            "{name}: {mean}"
        );
        assert!(
            (ratios[ratios.len() / 2] - wants("median_ratio")).abs() < 5.0 * error,
            "{name}"
        );
        agreement.settle(name);
    }
    assert_eq!(ShapeCorrection::RossMean.factor(2, 9), None);
    assert_eq!(ShapeCorrection::C4Median.factor(1, 9), None);
    let near_one = ShapeCorrection::C4Mean
        .factor(10_001, 10_001)
        .expect("a factor");
    let before = ShapeCorrection::C4Mean
        .factor(10_000, 10_000)
        .expect("a factor");
    assert!(near_one > before && near_one - before < 1e-7);
}

#[test]
fn what_cannot_be_answered_says_why() {
    let sample = sample("ball-bearings");
    let fitted = fit(&sample, Family::Weibull).expect("a fit");
    let ask = |quantity, method| limits(&sample, &fitted, quantity, Level::LOWER_90, method);
    for method in [Method::Delta, Method::LikelihoodRatio, Method::ModifiedRoot] {
        assert!(matches!(
            ask(Quantity::Quantile(1.0), method),
            Err(LimitsError::Share { .. })
        ));
        assert!(matches!(
            ask(Quantity::Survival(0.0), method),
            Err(LimitsError::Usage { .. })
        ));
        assert!(matches!(
            ask(Quantity::Hazard(f64::NAN), method),
            Err(LimitsError::Usage { .. })
        ));
        assert!(matches!(
            ask(Quantity::MeanResidualLife(-1.0), method),
            Err(LimitsError::Usage { .. })
        ));
        assert!(matches!(
            ask(
                Quantity::ConditionalSurvival {
                    age: 1.0,
                    span: 0.0
                },
                method
            ),
            Err(LimitsError::Usage { .. })
        ));
        assert!(matches!(
            ask(Quantity::Parameter("mu"), method),
            Err(LimitsError::Parameter { .. })
        ));
    }
    let few = Method::Bootstrap(Resampling {
        seed: 1,
        resamples: 5,
    });
    assert!(matches!(
        ask(Quantity::Quantile(0.1), few),
        Err(LimitsError::TooFewResamples { .. })
    ));
    let loglogistic = fit(&sample, Family::Loglogistic).expect("a fit");
    let mean = limits(
        &sample,
        &loglogistic,
        Quantity::MeanResidualLife(0.0),
        Level::LOWER_90,
        SMALL_SAMPLE,
    );
    assert!(matches!(mean, Err(LimitsError::HeavyTail)));
    assert!(matches!(
        confidence_below(
            &sample,
            &fitted,
            Quantity::Survival(50.0),
            1.5,
            SMALL_SAMPLE
        ),
        Err(LimitsError::Value { .. })
    ));
    let many = Sample::new([
        Observation::exact(1.0).times(1 << 40),
        Observation::exact(2.0).times(1 << 40),
    ])
    .expect("valid");
    let of_many = fit(&many, Family::Weibull).expect("a fit");
    let drawn = limits(
        &many,
        &of_many,
        Quantity::Quantile(0.1),
        Level::LOWER_90,
        Method::Bootstrap(Resampling {
            seed: 1,
            resamples: 99,
        }),
    );
    assert!(matches!(drawn, Err(LimitsError::TooManyLives { .. })));
}

#[test]
fn a_survivor_that_entered_late_does_not_take_early_watching_from_the_failures() {
    let mut lives: Vec<Observation> = [0.4, 0.9, 1.3, 2.1, 3.0].map(Observation::exact).to_vec();
    lives.push(Observation::right_censored(9.0).entered_at(8.9));
    let sample = Sample::new(lives.clone()).expect("valid");
    let late = fit(&sample, Family::Weibull).expect("a fit");
    lives.pop();
    let without = Sample::new(lives).expect("valid");
    let complete = fit(&without, Family::Weibull).expect("a fit");
    for quantity in [Quantity::Quantile(0.1), Quantity::Parameter("shape")] {
        let by =
            |sample, fit| limits(sample, fit, quantity, Level::TWO_SIDED_90, SMALL_SAMPLE).unwrap();
        let (got, want) = (by(&sample, &late), by(&without, &complete));
        let width = |limits: &Limits| (limits.upper.unwrap() / limits.lower.unwrap()).ln();
        // So short a watch of one life more tells little.
        let ratio = width(&got) / width(&want);
        assert!((0.7..1.4).contains(&ratio), "{quantity:?} {got:?} {want:?}");
    }
}

#[test]
fn a_mean_that_the_data_leave_to_a_tail_is_refused() {
    let sample = Sample::new([
        Observation::exact(0.4196).entered_at(0.0612),
        Observation::exact(13.8155).entered_at(8.12),
        Observation::right_censored(13.8155).entered_at(7.53),
        Observation::right_censored(13.8155).entered_at(5.66),
    ])
    .expect("valid");
    let fitted = fit(&sample, Family::Weibull).expect("a fit");
    for (age, side) in [(0.0, Side::Upper), (1e-5, Side::Lower), (1e-5, Side::Upper)] {
        let level = Level::new(0.9, side).expect("a level");
        let mean = Quantity::MeanResidualLife(age);
        let got = limits(&sample, &fitted, mean, level, Method::LikelihoodRatio);
        assert_eq!(got, Err(LimitsError::MeanOnTail), "{age} {side:?}");
    }
    let median = limits(
        &sample,
        &fitted,
        Quantity::Quantile(0.5),
        Level::new(0.9, Side::Upper).expect("a level"),
        Method::LikelihoodRatio,
    );
    assert!(median.expect("limits").upper.is_some());
}

/// Lives of a Weibull, censored at random, some with late entry or found between looks.
fn lives() -> impl Strategy<Value = Vec<Observation>> {
    let life = (1e-6..1.0_f64, 0.05..2.0_f64, 0u8..8, 0.0..0.95_f64);
    (
        prop::collection::vec(life, 4..20),
        -1.2..2.5_f64,
        -6.0..9.0_f64,
    )
        .prop_map(|(lives, ln_shape, lg_scale)| {
            let (shape, scale) = (ln_shape.exp(), 10.0_f64.powf(lg_scale));
            lives
                .into_iter()
                .map(|(u, stop, kind, part)| {
                    let t = scale * (-u.ln()).max(1e-12).powf(1.0 / shape);
                    let stop = scale * stop.powf(1.0 / shape);
                    match kind {
                        0..=3 if t <= stop => Observation::exact(t),
                        0..=3 => Observation::right_censored(stop),
                        4 => Observation::exact(t).entered_at(part * t),
                        5 => Observation::interval(part * t, t),
                        6 => Observation::right_censored(t).entered_at(part * t),
                        _ => Observation::exact(t),
                    }
                })
                .collect()
        })
}

const LEVELS: [f64; 4] = [0.5, 0.8, 0.95, 0.99];

fn is_chance(quantity: Quantity) -> bool {
    matches!(
        quantity,
        Quantity::Survival(_) | Quantity::ConditionalSurvival { .. }
    )
}

/// Limits are finite, in the range of the quantity and about the estimate, and an open side is said to be open.
fn promised(got: &Limits, quantity: Quantity, what: &str) -> Result<(), TestCaseError> {
    let (least, most) = if is_chance(quantity) {
        (0.0, 1.0)
    } else {
        (f64::MIN_POSITIVE * f64::EPSILON, f64::MAX)
    };
    let numbers = [got.lower, Some(got.value), got.upper];
    let numbers: Vec<f64> = numbers.into_iter().flatten().collect();
    prop_assert!(
        numbers.iter().all(|number| (least..=most).contains(number)),
        "{got:?} {what}"
    );
    prop_assert!(numbers.is_sorted(), "{got:?} {what}");
    let open = usize::from(got.lower.is_none()) + usize::from(got.upper.is_none());
    let said = got
        .warnings
        .iter()
        .filter(|warning| warning.code == WarningCode::UnboundedLimit)
        .count();
    prop_assert_eq!(open, said, "{:?} {}", got, what);
    Ok(())
}

/// A higher level is nowhere narrower, and a side once open stays open.
fn nested(narrow: &Limits, wide: &Limits, what: &str) -> Result<(), TestCaseError> {
    let outside = |wide: Option<f64>, narrow: Option<f64>, sign: f64| match (wide, narrow) {
        (None, _) => true,
        (Some(_), None) => false,
        (Some(wide), Some(narrow)) => (wide - narrow) * sign >= 0.0,
    };
    prop_assert!(
        outside(wide.lower, narrow.lower, -1.0) && outside(wide.upper, narrow.upper, 1.0),
        "{narrow:?} {wide:?} {what}"
    );
    prop_assert_eq!(narrow.value.to_bits(), wide.value.to_bits());
    Ok(())
}

/// The confidence crosses the level at a limit, wherever the limit is not the estimate itself or an end of the range.
/// A crossing, because with one or two failures the correction moves in small steps.
fn given_back(
    sample: &Sample,
    fit: &Fit,
    quantity: Quantity,
    level: f64,
    method: Method,
    got: &Limits,
    what: &str,
) -> Result<(), TestCaseError> {
    let tail = 0.5 * (1.0 - level);
    for (limit, want) in [(got.lower, tail), (got.upper, 1.0 - tail)] {
        let Some(limit) = limit else { continue };
        // Next to 1 a chance keeps too few digits of what is left.
        let one = is_chance(quantity) && limit > 0.999_999;
        if one || limit < 1e-300 || (limit / got.value).ln().abs() < 1e-3 {
            continue;
        }
        let by = |value| confidence_below(sample, fit, quantity, value, method);
        let at = by(limit);
        prop_assert!(at.is_ok(), "{limit} {at:?} {what}");
        if at.as_ref().is_ok_and(|at| (*at - want).abs() < 1e-4) {
            continue;
        }
        let near = 1e-6
            * if is_chance(quantity) {
                limit * (1.0 - limit)
            } else {
                limit
            };
        let (before, behind) = (by(limit - near), by(limit + near));
        let crossed = before.as_ref().is_ok_and(|before| *before < want + 1e-4)
            && behind.as_ref().is_ok_and(|behind| *behind > want - 1e-4);
        prop_assert!(
            crossed,
            "{limit} {before:?} {at:?} {behind:?} {want} {what}"
        );
    }
    Ok(())
}

/// Every quantity by every method at rising levels: only the errors that are named, and what is promised of limits.
fn promises_are_kept(sample: &Sample) -> Result<(), TestCaseError> {
    let Ok(fit) = fit(sample, Family::Weibull) else {
        return Ok(());
    };
    if fit.quantile(0.5).is_none() || fit.covariance.is_none() {
        return Ok(());
    }
    for quantity in quantities(&fit) {
        // Whether there is an estimate is no matter of the method or the level.
        let mut without_estimate = None;
        for method in [Method::Delta, Method::LikelihoodRatio, Method::ModifiedRoot] {
            if method == Method::ModifiedRoot && matches!(quantity, Quantity::MeanResidualLife(_)) {
                let refused = limits(sample, &fit, quantity, Level::TWO_SIDED_95, method);
                prop_assert!(
                    matches!(
                        refused,
                        Err(LimitsError::MeanByModifiedRoot | LimitsError::OutOfRange)
                    ),
                    "{refused:?}"
                );
                continue;
            }
            let mut narrower: Option<Limits> = None;
            for level in LEVELS {
                let what = format!("{quantity:?} {method:?} {level} {sample:?}");
                let answer = limits(
                    sample,
                    &fit,
                    quantity,
                    Level::two_sided(level).expect("a level"),
                    method,
                );
                let missing = answer == Err(LimitsError::OutOfRange);
                prop_assert_eq!(
                    *without_estimate.get_or_insert(missing),
                    missing,
                    "{}",
                    what
                );
                match answer {
                    Ok(found) => {
                        promised(&found, quantity, &what)?;
                        if let Some(narrower) = &narrower {
                            nested(narrower, &found, &what)?;
                        }
                        given_back(sample, &fit, quantity, level, method, &found, &what)?;
                        narrower = Some(found);
                    }
                    Err(LimitsError::OutOfRange) => {}
                    Err(LimitsError::MeanOnTail)
                        if matches!(quantity, Quantity::MeanResidualLife(_)) => {}
                    Err(error) => prop_assert!(false, "{error:?} {what}"),
                }
            }
        }
    }
    Ok(())
}

#[test]
fn promises_are_kept_where_searches_are_hard() {
    let exact = |t: f64, entry: f64| Observation::exact(t).entered_at(entry);
    let alive = |t: f64, entry: f64| Observation::right_censored(t).entered_at(entry);
    let samples = [
        // Newton's steps creep.
        vec![
            alive(5.35638, 2.443432),
            Observation::interval(8.546768, 16.77219),
            Observation::interval(10.042931, 13.702348),
            exact(14.026542, 0.0),
        ],
        vec![
            exact(276.386, 0.0),
            alive(358.914, 297.0717),
            exact(382.0562, 152.235),
            alive(382.1303, 175.0319),
        ],
        // The likelihood with the hazard held has two hills.
        vec![
            Observation::interval(6.157912, 92.568795),
            Observation::interval(35.804134, 125.213141),
            exact(102.207377, 8.977879),
            exact(112.17766, 0.0),
        ],
        // So steep that nothing is spent by half of the median.
        vec![
            alive(4.319776, 0.0),
            alive(4.555404, 1.0582),
            alive(4.811411, 0.0),
            alive(4.836222, 3.841497),
            exact(5.274607, 3.454658),
            exact(5.292355, 4.65664),
        ],
    ];
    for lives in samples {
        promises_are_kept(&Sample::new(lives).expect("valid lives")).expect("promises");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: std::env::var("PROPTEST_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(60), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn limits_enclose_the_estimate_widen_with_the_level_and_give_back_their_confidence(lives in lives()) {
        promises_are_kept(&Sample::new(lives).expect("valid lives"))?;
    }

    #[test]
    fn a_change_of_unit_scales_the_corrected_limits(lives in lives(), factor in 1e-3..1e3_f64) {
        let scaled = lives.iter().map(|life| Observation {
            entry: life.entry * factor,
            lower: life.lower * factor,
            upper: life.upper * factor,
            ..life.clone()
        }).collect::<Vec<_>>();
        let (a, b) = (Sample::new(lives).expect("valid"), Sample::new(scaled).expect("valid"));
        let (Ok(one), Ok(other)) = (fit(&a, Family::Weibull), fit(&b, Family::Weibull)) else { return Ok(()) };
        if one.covariance.is_none() { return Ok(()) }
        let by = |sample, fit, quantity| limits(sample, fit, quantity, Level::TWO_SIDED_90, SMALL_SAMPLE).expect("limits");
        let (x, y) = (by(&a, &one, Quantity::Quantile(0.1)), by(&b, &other, Quantity::Quantile(0.1)));
        let shape = one.parameter("shape").unwrap();
        for (x, y) in [(x.lower, y.lower), (x.upper, y.upper)] {
            if let (Some(x), Some(y)) = (x, y) {
                prop_assert!((x * factor / y - 1.0).abs() < 1e-5 * (1.0 + 1.0 / shape), "{x} {y}");
            }
        }
        let (x, y) = (by(&a, &one, Quantity::Parameter("shape")), by(&b, &other, Quantity::Parameter("shape")));
        prop_assert!((x.upper.unwrap() / y.upper.unwrap() - 1.0).abs() < 1e-5);
    }
}
