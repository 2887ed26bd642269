//! The report as a document, and the samples behind it.

use crate::golden::sample;
use serde_json::Value;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::fit;
use wearbook_analysis::goodness::anderson_darling;
use wearbook_analysis::intervals::{Level, Method, Quantity, limits};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::report::{Estimator, Options, Report, analyse};
use wearbook_analysis::sample::Sample;
use wearbook_analysis::warning::WarningCode;

fn json(report: &Report) -> Value {
    serde_json::to_value(report).expect("a report is JSON")
}

fn report_of(lives: impl IntoIterator<Item = Observation>) -> Report {
    analyse(
        &Sample::new(lives).expect("valid lives"),
        &Options::default(),
    )
}

#[test]
fn a_report_has_the_agreed_members() {
    let document = json(&analyse(&sample("ball-bearings"), &Options::default()));
    for member in [
        "sample",
        "survival_curve",
        "cumulative_hazard",
        "models",
        "chosen",
        "causes",
        "warnings",
    ] {
        assert!(!document[member].is_null(), "{member}");
    }
    for member in [
        "lives",
        "failures",
        "right_censored",
        "left_censored",
        "interval_censored",
        "delayed_entry",
        "total_usage",
        "longest_usage",
        "digest",
        "dead_on_arrival",
    ] {
        assert!(!document["sample"][member].is_null(), "{member}");
    }
    assert_eq!(document["survival_curve"]["estimator"], "kaplan-meier");
    assert_eq!(document["survival_curve"]["limits"]["kind"], "log-log");
    let weibull = &document["models"][0];
    assert_eq!(weibull["family"], "weibull");
    for name in ["shape", "scale"] {
        for member in ["value", "std_error", "lower", "upper"] {
            assert!(
                weibull["parameters"][name][member].is_number(),
                "{name} {member}"
            );
        }
    }
    assert_eq!(weibull["quantiles"][2]["p"], 0.1);
    assert_eq!(weibull["quantiles"][2]["kind"], "modified-root");
    assert_eq!(weibull["parameters"]["shape"]["kind"], "modified-root");
    assert_eq!(weibull["quantiles"][2]["level"], 0.95);
    assert_eq!(
        weibull["goodness"]["plot"]
            .as_array()
            .expect("a plot")
            .len(),
        23
    );
}

#[test]
fn every_family_names_its_parameters() {
    let document = json(&analyse(&sample("ball-bearings"), &Options::default()));
    let names: Vec<Vec<&String>> = document["models"]
        .as_array()
        .expect("models")
        .iter()
        .map(|model| {
            model["parameters"]
                .as_object()
                .expect("parameters")
                .keys()
                .collect()
        })
        .collect();
    assert_eq!(
        names,
        [
            vec!["scale", "shape"],
            vec!["mean", "rate"],
            vec!["mu", "sigma"],
            vec!["scale", "shape"]
        ]
    );
    // Lieblein and Zelen 1956: the exponential mean is 72.2.
    let mean = document["models"][1]["parameters"]["mean"]["value"]
        .as_f64()
        .expect("a mean");
    assert!((mean - 72.2).abs() < 0.1);
}

#[test]
fn a_sample_without_failures_gives_nulls_and_says_why() {
    let report = report_of([Observation::right_censored(10.0).times(5)]);
    assert!(report.chosen.is_none());
    assert!(
        report
            .models
            .iter()
            .all(|model| model.parameters.is_none() && model.log_likelihood.is_none())
    );
    assert!(
        report
            .models
            .iter()
            .all(|model| model.warnings[0].code == WarningCode::NoFailures)
    );
    assert_eq!(report.warnings[0].code, WarningCode::NoFailures);
    assert_eq!(
        json(&report)["models"][0]["warnings"][0]["code"],
        "no-failures"
    );
}

#[test]
fn an_empty_sample_is_a_report_too() {
    let report = report_of([]);
    assert_eq!(report.warnings[0].code, WarningCode::NoLives);
    assert!(report.survival_curve.points.is_empty());
}

#[test]
fn fewer_than_ten_failures_do_not_choose_a_family() {
    let chosen = analyse(&sample("bearing-cage"), &Options::default())
        .chosen
        .expect("a model");
    assert_eq!(chosen.family, Family::Weibull);
    assert!(chosen.why.contains("fewer than 10"), "{}", chosen.why);
}

#[test]
fn a_choice_without_another_says_so_however_few_failures_there_are() {
    let why = |families: &[Family]| {
        let options = Options {
            families: families.to_vec(),
            ..Options::default()
        };
        let chosen = analyse(&sample("bearing-cage"), &options).chosen;
        chosen.expect("a model").why
    };
    assert_eq!(
        why(&[Family::Lognormal]),
        "The only family that was asked for."
    );
    let two = why(&[Family::Lognormal, Family::Loglogistic]);
    assert!(
        two.ends_with(
            "the lognormal model is taken as the first that was asked for and could be fitted."
        ),
        "{two}"
    );
    // With all failures at one usage only the exponential has an estimate.
    let alike = report_of([Observation::exact(5.0).times(3)]);
    let chosen = alike.chosen.expect("a model");
    assert_eq!(chosen.family, Family::Exponential);
    assert_eq!(
        chosen.why,
        "The only one of 4 families that could be fitted."
    );
}

#[test]
fn a_caution_about_an_age_is_a_sentence() {
    let report = analyse(&sample("bearing-cage"), &Options::default());
    let weibull = report.model(Family::Weibull).expect("an entry");
    let longest = report.sample.longest_usage;
    let said = |warning: &str| weibull.warnings.iter().any(|one| one.message == warning);
    assert!(
        said(&format!(
            "The age by which 50 in 100 have failed lies beyond the longest age seen, {longest}."
        )),
        "{:?}",
        weibull.warnings
    );
}

#[test]
fn enough_failures_choose_by_the_corrected_criterion() {
    let report = analyse(&sample("loco-controls"), &Options::default());
    let chosen = report.chosen.clone().expect("a model");
    let best = report
        .models
        .iter()
        .min_by(|a, b| a.aicc.unwrap().total_cmp(&b.aicc.unwrap()))
        .expect("models");
    assert_eq!(chosen.family, best.family);
    assert!(chosen.why.contains("Akaike"), "{}", chosen.why);
}

#[test]
fn failures_at_usage_zero_are_kept_apart_but_not_in_silence() {
    let lives = [
        Observation::exact(0.0).times(2),
        Observation::exact(5.0),
        Observation::exact(7.0),
    ];
    let sample = Sample::new(lives).expect("valid");
    assert_eq!(
        (sample.dead_on_arrival(), sample.lives(), sample.failures()),
        (2, 2, 2)
    );
    let report = analyse(&sample, &Options::default());
    assert!(
        report
            .warnings
            .iter()
            .any(|warning| warning.code == WarningCode::DeadOnArrival)
    );
    assert!(report.models[0].parameters.is_some());
}

#[test]
fn intervals_bring_the_interval_estimator() {
    let report = analyse(&sample("cosmesis-rt"), &Options::default());
    assert_eq!(report.survival_curve.estimator, Estimator::Turnbull);
    assert!(report.cumulative_hazard.is_empty());
    assert!(report.survival_curve.median.value.is_some());
}

#[test]
fn causes_are_counted_and_their_mixing_is_said() {
    let report = analyse(&sample("shock-absorbers"), &Options::default());
    assert_eq!(
        report
            .causes
            .iter()
            .map(|cause| cause.failures)
            .sum::<u64>(),
        11
    );
    assert_eq!(report.causes.len(), 2);
    assert!(
        report
            .warnings
            .iter()
            .any(|warning| warning.code == WarningCode::MixedCauses)
    );
}

#[test]
fn an_unbounded_side_is_null_with_a_warning() {
    // Two failures, each watched only shortly before: any shape down to none fits almost as well.
    let report = report_of([
        Observation::exact(0.095).entered_at(0.066),
        Observation::exact(13.8).entered_at(12.9),
    ]);
    let weibull = report.model(Family::Weibull).expect("a model");
    let shape = weibull.parameters.as_ref().expect("parameters")["shape"];
    assert_eq!(shape.lower, None);
    assert!(shape.upper.is_some());
    assert!(
        weibull
            .warnings
            .iter()
            .any(|warning| warning.code == WarningCode::UnboundedLimit)
    );
}

#[test]
fn grouping_and_order_do_not_change_the_digest() {
    let one = Sample::new([
        Observation::exact(3.0).times(2),
        Observation::right_censored(9.0),
    ])
    .expect("valid");
    let other = Sample::new([
        Observation::right_censored(9.0),
        Observation::exact(3.0),
        Observation::exact(3.0),
    ])
    .expect("valid");
    assert_eq!(one, other);
    assert_eq!(one.digest(), other.digest());
    assert_eq!(one.digest().len(), 64);
}

#[test]
fn every_faulty_field_is_named_with_its_row_rule_and_value() {
    let lives = [
        Observation::exact(5.0),
        Observation::exact(-1.0),
        Observation::right_censored(f64::NAN),
        Observation::interval(5.0, 4.0),
        Observation::right_censored(5.0).entered_at(6.0),
        Observation::exact(5.0).times(0),
        Observation::exact(5.0).entered_at(5.0),
        Observation::right_censored(f64::INFINITY),
        Observation::exact(1e-101),
        Observation::right_censored(1e101),
    ];
    let error = Sample::new(lives).expect_err("faults");
    let found: Vec<(usize, &str)> = error
        .faults
        .iter()
        .map(|fault| (fault.row, fault.field))
        .collect();
    assert_eq!(
        found,
        [
            (1, "lower"),
            (2, "lower"),
            (3, "upper"),
            (4, "lower"),
            (5, "count"),
            (6, "upper"),
            (7, "lower"),
            (8, "lower"),
            (8, "upper"),
            (9, "lower")
        ]
    );
    assert!(
        error
            .to_string()
            .contains("row 1, lower must be finite and at least entry but is -1")
    );
}

#[test]
fn complete_samples_have_the_published_anderson_darling_distance() {
    for (data, family, want) in [
        ("ball-bearings", Family::Weibull, 0.328509845975),
        ("ball-bearings", Family::Lognormal, 0.188644952808),
        ("aircond-8044", Family::Weibull, 0.333552819424),
    ] {
        let sample = sample(data);
        let got =
            anderson_darling(&sample, &fit(&sample, family).expect("a fit")).expect("complete");
        assert!((got / want - 1.0).abs() < 1e-8, "{data}: {got}");
    }
    let censored = sample("diesel-fans");
    assert_eq!(
        anderson_darling(&censored, &fit(&censored, Family::Weibull).expect("a fit")),
        None
    );
}

#[test]
fn limits_of_the_further_span_at_age_zero_are_those_of_the_quantile() {
    let sample = sample("ball-bearings");
    for family in Family::ALL {
        let fit = fit(&sample, family).expect("a fit");
        let span = |age| {
            limits(
                &sample,
                &fit,
                Quantity::Span { age, share: 0.05 },
                Level::TWO_SIDED_90,
                Method::LikelihoodRatio,
            )
            .expect("limits")
        };
        let (new, almost) = (span(0.0), span(1e-9));
        let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-5, "{family:?} {a} {b}");
        near(new.value, almost.value);
        near(new.lower.expect("lower"), almost.lower.expect("lower"));
        near(new.upper.expect("upper"), almost.upper.expect("upper"));
    }
}

#[test]
fn at_a_limit_of_the_further_span_the_profile_has_fallen_by_the_chi_square() {
    // The best likelihood over all Weibulls that meet the risk with exactly that span, by plain search.
    let sample = sample("ball-bearings");
    let fit = fit(&sample, Family::Weibull).expect("a fit");
    let (age, p) = (40.0_f64, 0.1_f64);
    let limits = limits(
        &sample,
        &fit,
        Quantity::Span { age, share: p },
        Level::TWO_SIDED_90,
        Method::LikelihoodRatio,
    )
    .expect("limits");
    let lives: Vec<(f64, f64)> = sample
        .observations()
        .map(|row| (row.lower, row.count as f64))
        .collect();
    let likelihood = |shape: f64, span: f64| {
        let per_scale = ((age + span).powf(shape) - age.powf(shape)) / -(-p).ln_1p();
        let scale = per_scale.powf(1.0 / shape);
        lives
            .iter()
            .map(|(t, count)| {
                let ln = shape.ln() - shape * scale.ln() + (shape - 1.0) * t.ln();
                count * (ln - (t / scale).powf(shape))
            })
            .sum::<f64>()
    };
    for span in [limits.lower.expect("lower"), limits.upper.expect("upper")] {
        let best = (1..200_000)
            .map(|i| likelihood(f64::from(i) * 5e-5, span))
            .fold(f64::NEG_INFINITY, f64::max);
        let fall = 2.0 * (fit.log_likelihood - best);
        assert!((fall - 2.705_543_454_095).abs() < 1e-6, "{fall}");
    }
}
