//! Competing modes as a series system.

use crate::golden::{Agreement, sample};
use serde_json::Value;
use wearbook_analysis::competing::{
    Better, CompetingError, ModeOutcome, Plan, UnknownMode, series_system,
};
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{FitError, fit};
use wearbook_analysis::intervals::{Level, Method, Quantity, limits};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn plan() -> Plan {
    Plan::new(Family::Weibull)
}

#[test]
fn the_shock_absorbers_give_the_published_modes_and_their_product() {
    let file: Value =
        serde_json::from_str(include_str!("../data/competing_modes.json")).expect("JSON");
    let sample = sample("shock-absorbers");
    let system = series_system(&sample, &plan()).expect("a system");
    let mut agreement = Agreement::default();
    let mut sum = 0.0;
    let mut curves = Vec::new();
    for mode in &system.modes {
        let want = &file["modes"][mode.cause.as_deref().expect("a name")];
        let ModeOutcome::Fitted(fit) = &mode.outcome else {
            panic!("{mode:?}");
        };
        assert_eq!(Some(mode.failures), want["failures"].as_u64());
        for name in ["scale", "shape"] {
            agreement.option(
                "params",
                fit.parameter(name),
                &want["params"][name],
                1e-6,
                0.0,
            );
        }
        agreement.option(
            "loglik",
            Some(fit.log_likelihood),
            &want["loglik"],
            1e-6,
            0.0,
        );
        let covariance = fit.log_covariance.as_ref().expect("a covariance");
        let cell = want["cov_log"][0][1].as_f64().expect("a number");
        agreement.close("covariance", covariance[0][1], cell, 1e-5, 0.0);
        sum += want["loglik"].as_f64().expect("a number");
        curves.push((
            fit.parameter("scale").unwrap(),
            fit.parameter("shape").unwrap(),
        ));
    }
    let comparison = system.comparison.as_ref().expect("a comparison");
    agreement.close(
        "joint loglik",
        comparison.series_log_likelihood,
        sum,
        1e-6,
        0.0,
    );
    let single = &file["single"]["loglik"];
    agreement.option(
        "single loglik",
        Some(comparison.single_log_likelihood_of_ages),
        single,
        1e-6,
        0.0,
    );
    // 7 of 11 failures by one mode, 4 by the other: -7 ln(11/7) - 4 ln(11/4).
    let shares = 7.0 * (7.0_f64 / 11.0).ln() + 4.0 * (4.0_f64 / 11.0).ln();
    agreement.close(
        "single with shares",
        comparison.single_log_likelihood,
        single.as_f64().expect("a number") + shares,
        1e-6,
        0.0,
    );
    assert_eq!(
        (comparison.series_parameters, comparison.single_parameters),
        (4, 3)
    );
    // The shapes are 3.3 and 2.9, so one shape does as well.
    assert_ne!(comparison.better, Better::Series);
    for usage in [1e3, 9e3, 2e4, 4e4] {
        let hazard: f64 = curves
            .iter()
            .map(|(scale, shape)| (usage / scale).powf(*shape))
            .sum();
        agreement.close(
            "survival",
            system.survival(usage).expect("a share"),
            (-hazard).exp(),
            1e-12,
            0.0,
        );
        let rates: Vec<f64> = curves
            .iter()
            .map(|(scale, shape)| shape / scale * (usage / scale).powf(shape - 1.0))
            .collect();
        let shares = system.failing_at(usage).expect("shares");
        agreement.close(
            "share",
            shares[0].share,
            rates[0] / (rates[0] + rates[1]),
            1e-12,
            0.0,
        );
        let leading = system.leading_at(usage).expect("a mode");
        assert_eq!(leading.share, shares[0].share.max(shares[1].share));
    }
    for p in [0.01, 0.1, 0.5, 0.99] {
        let at = system.quantile(p).expect("a usage");
        agreement.close(
            "quantile",
            1.0 - system.survival(at).expect("a share"),
            p,
            1e-10,
            0.0,
        );
    }
    agreement.settle("shock absorbers, two modes");
}

#[test]
fn incidences_add_up_to_what_has_failed_and_match_brute_sums() {
    let sample = sample("shock-absorbers");
    let mut mixed = plan();
    mixed.families.insert("2".into(), Family::Lognormal);
    let system = series_system(&sample, &mixed).expect("a system");
    for usage in [100.0, 5e3, 1.5e4, 3e4, 1e6] {
        let one = system.incidence(Some("1"), usage).expect("a share");
        let two = system.incidence(Some("2"), usage).expect("a share");
        let failed = -(-system.cumulative_hazard(usage).expect("a hazard")).exp_m1();
        assert!(
            ((one + two) / failed - 1.0).abs() < 1e-9,
            "{usage}: {one} {two} {failed}"
        );
    }
    // Midpoint sum of the hazard of one mode times survival of both.
    let ModeOutcome::Fitted(first) = &system.modes[0].outcome else {
        panic!("a fit");
    };
    let (steps, end) = (200_000, 3e4);
    let width = end / f64::from(steps);
    let brute: f64 = (0..steps)
        .map(|i| {
            let t = (f64::from(i) + 0.5) * width;
            width * first.hazard(t).expect("a hazard") * system.survival(t).expect("a share")
        })
        .sum();
    let got = system.incidence(Some("1"), end).expect("a share");
    assert!((got / brute - 1.0).abs() < 1e-8, "{got} {brute}");
}

#[test]
fn one_mode_alone_is_the_ordinary_fit_with_its_limits() {
    let rows = [3.0, 5.0, 8.0, 13.0, 14.0]
        .map(|t| Observation::exact(t).with_cause("wear"))
        .into_iter()
        .chain([Observation::right_censored(15.0).times(4)]);
    let sample = Sample::new(rows).expect("valid");
    let system = series_system(&sample, &plan()).expect("a system");
    let fit = fit(&sample, Family::Weibull).expect("a fit");
    let level = Level::TWO_SIDED_90;
    let got = system.quantile_limits(0.1, level).expect("limits");
    let want =
        limits(&sample, &fit, Quantity::Quantile(0.1), level, Method::Delta).expect("limits");
    for (got, want) in [
        (Some(got.value), Some(want.value)),
        (got.lower, want.lower),
        (got.upper, want.upper),
    ] {
        assert!(
            (got.unwrap() / want.unwrap() - 1.0).abs() < 1e-8,
            "{got:?} {want:?}"
        );
    }
    let comparison = system.comparison.expect("a comparison");
    assert!((comparison.series_aic - fit.aic).abs() < 1e-8);
    assert_eq!(comparison.better, Better::Undecided);
}

fn life(usage: f64, cause: &str) -> Observation {
    Observation::exact(usage).with_cause(cause)
}

#[test]
fn modes_of_different_kind_are_better_apart_than_as_one() {
    // Early failures of falling hazard, late ones closely together.
    let early = [1.0, 2.0, 4.0, 9.0, 20.0, 50.0, 100.0].map(|t| life(t, "set-up"));
    let late = [480.0, 490.0, 495.0, 500.0, 505.0, 512.0, 520.0, 525.0].map(|t| life(t, "wear"));
    let sample = Sample::new(early.into_iter().chain(late)).expect("valid");
    let system = series_system(&sample, &plan()).expect("a system");
    let comparison = system.comparison.as_ref().expect("a comparison");
    assert_eq!(comparison.better, Better::Series);
    assert!(comparison.series_log_likelihood_of_ages > comparison.single_log_likelihood_of_ages);
    assert_eq!(
        system.leading_at(5.0).expect("a mode").cause.as_deref(),
        Some("set-up")
    );
    assert_eq!(
        system.leading_at(500.0).expect("a mode").cause.as_deref(),
        Some("wear")
    );
}

#[test]
fn a_mode_without_a_fit_takes_no_other_down() {
    let rows = [life(3.0, "wear"), life(5.0, "wear"), life(9.0, "crack")]
        .into_iter()
        .chain([Observation::right_censored(8.0).times(3)]);
    let sample = Sample::new(rows).expect("valid");
    let system = series_system(&sample, &plan()).expect("a system");
    assert!(matches!(system.modes[0].outcome, ModeOutcome::Failed(_)));
    assert!(matches!(system.modes[1].outcome, ModeOutcome::Fitted(_)));
    assert!(system.comparison.is_none() && !system.warnings.is_empty());
    assert_eq!(
        system.survival(4.0),
        Err(CompetingError::Incomplete {
            modes: vec!["crack".into()]
        })
    );
    let wear = system.without_missing().survival(4.0).expect("a share");

    let mut declared = plan();
    declared.known_shapes.insert("crack".into(), 2.0);
    declared.known_shapes.insert("seizure".into(), 1.5);
    let system = series_system(&sample, &declared).expect("a system");
    assert!(matches!(
        system.modes[0].outcome,
        ModeOutcome::KnownShape { .. }
    ));
    assert!(matches!(system.modes[1].outcome, ModeOutcome::Bound { .. }));
    let all = system.survival(4.0).expect("a share");
    assert!(all < wear);
    let limits = system
        .survival_limits(4.0, Level::TWO_SIDED_90)
        .expect("limits");
    assert!(limits.lower < Some(all) && limits.upper > Some(all));
}

#[test]
fn incidences_add_up_beside_a_mode_of_the_smallest_or_the_largest_shape() {
    let rows = [life(0.3, "a").times(1_000)];
    let sample = Sample::new(rows).expect("valid");
    let shapes = [1e-3, 0.1, 1.0, 30.0, 900.0, 1e6];
    for (shape, other) in shapes
        .into_iter()
        .flat_map(|shape| [0.1, 0.4, 5.0, 200.0, 1e6].map(|other| (shape, other)))
    {
        let mut declared = plan();
        declared.known_shapes.insert("a".into(), shape);
        declared.known_shapes.insert("c".into(), other);
        let system = series_system(&sample, &declared).expect("a system");
        for usage in [1e-6, 0.1, 0.3, 2.0] {
            let survival = system.survival(usage).expect("a share");
            let shares = ["a", "c"].map(|cause| {
                let share = system.incidence(Some(cause), usage);
                share.expect("a share")
            });
            let sum: f64 = shares.iter().sum();
            assert!(
                (sum + survival - 1.0).abs() < 1e-9,
                "{shape} {other} {usage}: {sum} {survival}"
            );
        }
    }
}

#[test]
fn a_declared_shape_beyond_its_range_leaves_its_mode_without_a_model() {
    let sample = Sample::new([life(0.3, "a").times(1_000)]).expect("valid");
    for value in [4.2e-312, 1e-300, 1.1e6] {
        let mut declared = plan();
        declared.known_shapes.insert("a".into(), value);
        declared.known_shapes.insert("c".into(), value);
        let system = series_system(&sample, &declared).expect("a system");
        for mode in &system.modes {
            assert_eq!(mode.outcome, ModeOutcome::Failed(FitError::Shape { value }));
        }
        assert!(system.survival(0.3).is_err());
    }
}

#[test]
fn failures_of_unknown_mode_enter_as_told() {
    let rows = [
        life(3.0, "a"),
        life(5.0, "a"),
        life(7.0, "a"),
        life(4.0, "b"),
        life(6.0, "b"),
        Observation::exact(8.0),
        Observation::right_censored(9.0),
    ];
    let sample = Sample::new(rows).expect("valid");
    let with = |unknown| series_system(&sample, &Plan { unknown, ..plan() });
    assert_eq!(
        with(UnknownMode::Refuse),
        Err(CompetingError::UnknownModes { lives: 1 })
    );
    let leading = with(UnknownMode::Leading).expect("a system");
    let counts: Vec<u64> = leading.modes.iter().map(|mode| mode.failures).collect();
    assert_eq!(counts, [4, 2]);
    let own = with(UnknownMode::OwnMode).expect("a system");
    let counts: Vec<u64> = own.modes.iter().map(|mode| mode.failures).collect();
    assert_eq!(counts, [1, 3, 2]);
    assert_eq!(own.modes[0].cause, None);
}

#[test]
fn what_cannot_be_answered_is_refused() {
    let empty = Sample::new([]).expect("valid");
    assert_eq!(series_system(&empty, &plan()), Err(CompetingError::NoLives));
    let running = Sample::new([Observation::right_censored(5.0)]).expect("valid");
    assert_eq!(
        series_system(&running, &plan()),
        Err(CompetingError::NoModes)
    );
    let nameless = Sample::new([Observation::exact(5.0)]).expect("valid");
    let leading = Plan {
        unknown: UnknownMode::Leading,
        ..plan()
    };
    assert_eq!(
        series_system(&nameless, &leading),
        Err(CompetingError::NoModes)
    );
    let wide = Plan {
        bound_level: 1.0,
        ..plan()
    };
    assert!(matches!(
        series_system(&running, &wide),
        Err(CompetingError::Limits(_))
    ));
    let system = series_system(&sample("shock-absorbers"), &plan()).expect("a system");
    assert!(matches!(
        system.quantile(0.0),
        Err(CompetingError::Limits(_))
    ));
    assert!(matches!(
        system.survival(f64::NAN),
        Err(CompetingError::Limits(_))
    ));
    assert!(matches!(
        system.failing_at(0.0),
        Err(CompetingError::Limits(_))
    ));
    assert!(matches!(
        system.incidence(Some("3"), 1.0),
        Err(CompetingError::Mode { .. })
    ));
}

#[test]
fn failures_between_two_looks_enter_the_likelihood_by_their_integral() {
    let rows = [
        Observation::interval(2.0, 4.0).with_cause("a"),
        Observation::interval(3.0, 6.0).with_cause("b"),
        Observation::interval(6.0, 9.0).with_cause("a"),
        Observation::interval(7.0, 8.0).with_cause("b"),
        Observation::right_censored(10.0).times(3),
    ];
    let sample = Sample::new(rows).expect("valid");
    let system = series_system(&sample, &plan()).expect("a system");
    assert!(!system.warnings.is_empty());
    let comparison = system.comparison.as_ref().expect("a comparison");
    let share = |cause, to| system.incidence(Some(cause), to).expect("a share");
    let by_hand: f64 = [
        ("a", 2.0, 4.0),
        ("b", 3.0, 6.0),
        ("a", 6.0, 9.0),
        ("b", 7.0, 8.0),
    ]
    .iter()
    .map(|(cause, from, to)| (share(cause, *to) - share(cause, *from)).ln())
    .sum::<f64>()
        - 3.0 * system.cumulative_hazard(10.0).expect("a hazard");
    assert!((comparison.series_log_likelihood - by_hand).abs() < 1e-8);
}

#[test]
fn families_with_more_than_location_and_shape_are_refused() {
    let sample = sample("shock-absorbers");
    for family in [
        Family::Gamma,
        Family::GeneralisedGamma,
        Family::ThresholdWeibull,
    ] {
        let refused = Err(CompetingError::Family { family });
        assert_eq!(series_system(&sample, &Plan::new(family)), refused);
        let one_mode = Plan {
            families: [("Mode1".to_owned(), family)].into(),
            ..plan()
        };
        assert_eq!(series_system(&sample, &one_mode), refused);
    }
}
