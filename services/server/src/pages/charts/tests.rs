use wearbook_analysis::families::Family;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::report::{Options, Report, analyse};
use wearbook_analysis::sample::Sample;

use super::*;

mod geometry;
use crate::pages::figures::{Estimate, ScaleWords};

fn report(observations: Vec<Observation>) -> Report {
    let sample = Sample::new(observations).expect("the lives are valid");
    analyse(&sample, &Options::default())
}

fn worn_out() -> Report {
    report(
        [60.0, 85.0, 90.0, 120.0, 130.0, 155.0]
            .into_iter()
            .map(Observation::exact)
            .chain([100.0, 140.0, 180.0, 200.0].map(Observation::right_censored))
            .collect(),
    )
}

fn survival() -> SurvivalChart {
    SurvivalChart::from_report(&worn_out(), "s", "Belt <A> & B", ScaleWords::FLIGHTS)
        .expect("there are failures")
}

fn plot() -> ProbabilityChart {
    ProbabilityChart::from_report(&worn_out(), "p", "Belt", ScaleWords::FLIGHTS)
        .expect("there is a fit")
}

#[test]
fn every_drawing_has_a_role_a_title_and_a_description_of_its_own() {
    let drawn = survival_curve(&survival()) + &probability_plot(&plot());
    for suffix in ["s-wide", "s-narrow", "p-wide", "p-narrow"] {
        assert_eq!(
            drawn.matches(&format!("<title id=\"{suffix}-t\">")).count(),
            1
        );
        assert_eq!(
            drawn.matches(&format!("<desc id=\"{suffix}-d\">")).count(),
            1
        );
    }
    assert_eq!(drawn.matches("role=\"img\"").count(), 4);
}

#[test]
fn a_drawing_in_a_page_has_no_style_of_its_own() {
    let drawn = survival_curve(&survival()) + &probability_plot(&plot());
    assert!(!drawn.contains("style"));
}

#[test]
fn a_drawing_in_a_file_brings_its_namespace_and_its_style() {
    for file in [
        survival_curve_file(&survival()),
        probability_plot_file(&plot()),
    ] {
        assert!(file.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\""));
        assert!(file.contains("<style>"));
    }
}

#[test]
fn words_from_records_cannot_become_markup() {
    let drawn = survival_curve(&survival());
    assert!(drawn.contains("Belt &lt;A&gt; &amp; B"));
    assert!(!drawn.contains("<A>"));
}

#[test]
fn no_coordinate_is_anything_but_a_number() {
    let mut odd = survival();
    odd.renew_by = Some(f64::NAN);
    odd.decile = Some(Estimate {
        value: f64::INFINITY,
        lower: Some(f64::NAN),
        upper: None,
    });
    let mut odd_plot = plot();
    odd_plot.points.push(PlotPoint {
        age: 0.0,
        failed: 1.0,
    });
    let drawn = survival_curve(&odd) + &probability_plot(&odd_plot);
    assert!(!drawn.contains("NaN"));
    assert!(!drawn.contains("=\"inf"));
}

#[test]
fn the_curve_shows_how_many_are_at_risk_under_each_tick() {
    let chart = survival();
    assert_eq!(chart.at_risk(0.0), Some(10));
    assert_eq!(chart.at_risk(100.0), Some(7));
    assert_eq!(chart.at_risk(250.0), Some(0));
    assert!(survival_curve(&chart).contains(">At risk</text>"));
}

#[test]
fn the_table_repeats_the_exact_figures_of_the_analysis() {
    let report = worn_out();
    let rows = survival().rows();
    let steps: Vec<_> = report
        .survival_curve
        .points
        .iter()
        .filter(|point| point.failed != Some(0))
        .collect();
    assert_eq!(rows.len(), steps.len());
    for (row, step) in rows.iter().zip(steps) {
        assert_eq!(row.survival.exact.parse(), Ok(step.survival));
        assert_eq!(row.time.exact.parse(), Ok(step.time));
    }
}

#[test]
fn a_long_table_is_thinned_evenly_and_says_so() {
    let mut chart = survival();
    let first = *chart.points.first().expect("there is a point");
    chart.points = vec![first; 1_000];
    assert_eq!(chart.stride(), 5);
    assert_eq!(chart.rows().len(), 200);
}

#[test]
fn without_failures_there_is_a_reason_and_no_chart() {
    let report = report(vec![Observation::right_censored(50.0).times(3)]);
    let reason = SurvivalChart::from_report(&report, "s", "Belt", ScaleWords::FLIGHTS);
    assert_eq!(
        reason,
        Err("nothing has failed yet in 3 pieces, so the curve would be a flat line.".to_owned())
    );
    assert!(ProbabilityChart::from_report(&report, "p", "Belt", ScaleWords::FLIGHTS).is_err());
}

#[test]
fn failures_between_looks_are_drawn_without_counts() {
    let report = report(vec![
        Observation::interval(20.0, 40.0),
        Observation::interval(40.0, 60.0),
        Observation::interval(30.0, 50.0),
        Observation::right_censored(80.0),
    ]);
    let chart = SurvivalChart::from_report(&report, "s", "Belt", ScaleWords::FLIGHTS)
        .expect("the interval estimator gives a curve");
    assert!(!survival_curve(&chart).contains("At risk"));
    assert!(!chart.rows().is_empty());
}

#[test]
fn the_line_on_the_plot_is_the_fit() {
    let report = worn_out();
    for family in Family::ALL {
        let chart =
            ProbabilityChart::of_family(&report, family, "p", "Belt", ScaleWords::FLIGHTS).unwrap();
        let model = report.model(family).unwrap();
        let line = chart.line.unwrap();
        assert!(line.places.len() > 50);
        for (age, failed) in line.places {
            let survival = model_survival(model, age).unwrap();
            assert!((1.0 - survival - failed).abs() < 1e-12, "{family:?}");
        }
    }
}

#[test]
fn the_overlay_agrees_with_the_quantiles_of_every_family() {
    for model in &worn_out().models {
        for quantile in &model.quantiles {
            let age = quantile.value.expect("the quantile is within range");
            let survival = model_survival(model, age).expect("the model was fitted");
            assert!(
                (1.0 - survival - quantile.p).abs() < 1e-9,
                "{:?}",
                model.family
            );
        }
    }
}

#[test]
fn a_shared_axis_has_round_ends_around_all_figures() {
    assert_eq!(
        LifeAxis::holding([56.9, 34.4, 455.0]),
        LifeAxis::holding([20.0, 500.0])
    );
    assert_eq!(LifeAxis::holding([f64::NAN, 0.0]), None);
    assert!(LifeAxis::holding([100.0]).is_some());
}
