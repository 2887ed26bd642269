//! What must hold for any sample.

use proptest::prelude::*;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{Fit, fit, known_shape};
use wearbook_analysis::intervals::{Level, Method, Quantity, limits};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::report::{Options, Report, analyse};
use wearbook_analysis::sample::Sample;

/// Lives of a Weibull, censored at random, some with late entry or found between looks.
fn weibull_lives(most: usize) -> impl Strategy<Value = Vec<Observation>> {
    let life = (1e-6..1.0_f64, 0.05..3.0_f64, 0u8..8, 0.0..0.95_f64);
    (
        prop::collection::vec(life, 2..most),
        -1.6..3.0_f64,
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
                        0..=2 if t <= stop => Observation::exact(t),
                        0..=2 => Observation::right_censored(stop),
                        3 => Observation::right_censored(t),
                        4 => Observation::exact(t).entered_at(part * t),
                        5 => Observation::interval(part * t, t),
                        6 => Observation::right_censored(t).entered_at(part * t),
                        _ => Observation::exact(t),
                    }
                })
                .collect()
        })
}

/// Samples made to hurt: ties, tiny and huge usages and counts, entries just below exits.
fn nasty_lives() -> impl Strategy<Value = Vec<Observation>> {
    let usage = prop_oneof![
        (-6.0..9.0_f64).prop_map(|lg| 10.0_f64.powf(lg)),
        prop::sample::select(vec![1e-6, 1.0, 2.0, 3.0, 100.0, 1e9]),
    ];
    let entry = prop::sample::select(vec![0.0, 0.0, 0.0, 0.5, 0.999, 1.0 - 1e-9, 1.0 - 1e-15]);
    let count = prop::sample::select(vec![1, 1, 1, 2, 7, 1_000, 1_000_000_000]);
    let life = (usage, 0u8..5, entry, count, prop::option::of("[ab]")).prop_map(
        |(t, kind, entry, count, cause)| {
            let mut life = match kind {
                0 | 1 => Observation::exact(t),
                2 => Observation::right_censored(t),
                3 => Observation::interval(0.9 * t, t),
                _ => Observation::left_censored(t),
            };
            if kind != 3 {
                life = life.entered_at(entry * t);
            }
            life.cause = cause;
            life.times(count)
        },
    );
    prop::collection::vec(life, 0..12)
}

fn read_back(report: &Report) -> Report {
    let text = serde_json::to_string(report).expect("a report is JSON");
    serde_json::from_str(&text).expect("and reads back")
}

fn weibull(lives: Vec<Observation>) -> Option<(Sample, Fit)> {
    let sample = Sample::new(lives).expect("valid lives");
    let fitted = fit(&sample, Family::Weibull).ok()?;
    Some((sample, fitted))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: std::env::var("PROPTEST_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(200), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_sample_panics_or_puts_a_nan_into_a_report(lives in nasty_lives()) {
        let report = analyse(&Sample::new(lives).expect("valid lives"), &Options::default());
        // A number that is not finite would be written as null and not come back as it was.
        prop_assert_eq!(read_back(&report), report);
    }

    #[test]
    fn reports_of_ordinary_samples_survive_their_text(lives in weibull_lives(30)) {
        let report = analyse(&Sample::new(lives).expect("valid lives"), &Options::at(Level::TWO_SIDED_90));
        prop_assert_eq!(read_back(&report), report);
    }

    #[test]
    fn the_order_of_the_rows_changes_no_bit(lives in weibull_lives(20), turn in 0usize..20) {
        let one = Sample::new(lives.clone()).expect("valid lives");
        let mut turned = lives;
        let by = turn % turned.len();
        turned.rotate_left(by);
        turned.reverse();
        let other = Sample::new(turned).expect("valid lives");
        prop_assert_eq!(one.digest(), other.digest());
        prop_assert_eq!(analyse(&one, &Options::default()), analyse(&other, &Options::default()));
    }

    #[test]
    fn a_change_of_unit_scales_the_answers(lives in weibull_lives(20), factor in 1e-3..1e3_f64) {
        let scaled: Vec<Observation> = lives
            .iter()
            .map(|life| Observation {
                entry: life.entry * factor,
                lower: life.lower * factor,
                upper: life.upper * factor,
                ..life.clone()
            })
            .collect();
        if let (Some((a, one)), Some((b, other))) = (weibull(lives), weibull(scaled)) {
            let (s, t) = (one.parameter("shape").unwrap(), other.parameter("shape").unwrap());
            prop_assert!((s / t - 1.0).abs() < 1e-6, "{s} {t}");
            let near = |x: f64, y: f64| (x * factor / y - 1.0).abs() < 1e-6 * (1.0 + 1.0 / s);
            prop_assert!(near(one.quantile(0.1).unwrap(), other.quantile(0.1).unwrap()));
            let limits = |sample, fit| limits(sample, fit, Quantity::Quantile(0.1), Level::TWO_SIDED_90, Method::LikelihoodRatio).unwrap();
            let (x, y) = (limits(&a, &one), limits(&b, &other));
            for (x, y) in [(x.lower, y.lower), (x.upper, y.upper)] {
                if let (Some(x), Some(y)) = (x, y) {
                    prop_assert!(near(x, y), "{x} {y}");
                }
            }
        }
    }

    #[test]
    fn limits_enclose_the_estimate_and_widen_with_confidence(lives in weibull_lives(25), p in 0.001..0.9_f64, age in 0.0..2.0_f64) {
        let Some((sample, fit)) = weibull(lives) else { return Ok(()) };
        let Some(middle) = fit.quantile(0.5) else { return Ok(()) };
        let (narrow, wide) = (Level::TWO_SIDED_90, Level::TWO_SIDED_95);
        let both = |level| {
            [
                limits(&sample, &fit, Quantity::Quantile(p), level, Method::LikelihoodRatio),
                limits(&sample, &fit, Quantity::Parameter("shape"), level, Method::LikelihoodRatio),
                limits(&sample, &fit, Quantity::Parameter("scale"), level, Method::LikelihoodRatio),
                limits(&sample, &fit, Quantity::Survival(middle), level, Method::LikelihoodRatio),
                limits(&sample, &fit, Quantity::Span { age: age * middle, share: p }, level, Method::LikelihoodRatio),
            ]
        };
        for (narrow, wide) in both(narrow).into_iter().zip(both(wide)) {
            let (narrow, wide) = (narrow.expect("limits"), wide.expect("limits"));
            let slack = 1e-9 * narrow.value.abs();
            if let Some(lower) = narrow.lower {
                prop_assert!(lower <= narrow.value + slack);
                prop_assert!(wide.lower.is_none_or(|wide| wide <= lower + slack));
            }
            if let Some(upper) = narrow.upper {
                prop_assert!(upper >= narrow.value - slack);
                prop_assert!(wide.upper.is_none_or(|wide| wide >= upper - slack));
            }
        }
    }

    #[test]
    fn the_exponential_mean_is_usage_over_failures(lives in weibull_lives(25)) {
        let exact: Vec<Observation> =
            lives.into_iter().filter(|life| life.lower == life.upper || life.upper.is_infinite()).collect();
        let sample = Sample::new(exact).expect("valid lives");
        prop_assume!(sample.failures() > 0);
        let mean = fit(&sample, Family::Exponential).expect("a fit").parameter("mean").unwrap();
        let closed = sample.total_usage() / sample.failures() as f64;
        prop_assert!((mean / closed - 1.0).abs() < 1e-9, "{mean} {closed}");
    }

    #[test]
    fn a_known_shape_equals_its_closed_form(lives in weibull_lives(25), shape in 0.3..8.0_f64) {
        let plain: Vec<Observation> = lives
            .into_iter()
            .filter(|life| life.entry == 0.0 && (life.lower == life.upper || life.upper.is_infinite()))
            .collect();
        prop_assume!(!plain.is_empty());
        let exposure: f64 = plain.iter().map(|life| life.lower.powf(shape)).sum();
        let sample = Sample::new(plain).expect("valid lives");
        let got = known_shape(&sample, shape).expect("a fit");
        if sample.failures() > 0 {
            let want = (exposure.ln() - (sample.failures() as f64).ln()) / shape;
            prop_assert!((got.scale.unwrap().ln() - want).abs() < 1e-9);
        } else {
            let want = (exposure.ln() - (-(0.1_f64.ln())).ln()) / shape;
            prop_assert!((got.scale_lower(0.9).unwrap().ln() - want).abs() < 1e-9);
        }
    }

    #[test]
    fn the_fit_is_a_top(lives in weibull_lives(25), tilt in -0.05..0.05_f64) {
        let Some((sample, fitted)) = weibull(lives) else { return Ok(()) };
        let shape = fitted.parameter("shape").unwrap();
        if let Some(other) = known_shape(&sample, shape * tilt.exp()).ok().and_then(|held| held.log_likelihood) {
            prop_assert!(other <= fitted.log_likelihood + 1e-9 * (1.0 + other.abs()));
        }
    }
}
