use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::Level;
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
    let ages = [0.0, 100.0, 250.0];
    assert_eq!(chart.numbers_at_risk(&ages), Some(vec![10, 7, 0]));
    assert!(survival_curve(&chart).contains(">At risk</text>"));
}

/// Ten from new, of which eight fail at 50 to 57, and ninety who join at 160: the next step after age 57 is one at 170
/// with 92 at risk, but up to 160 two are.
fn joined_late() -> Vec<Observation> {
    (0_u32..8)
        .map(|number| Observation::exact(50.0 + f64::from(number)))
        .chain([
            Observation::right_censored(200.0).times(2),
            Observation::exact(170.0).entered_at(160.0),
            Observation::right_censored(190.0)
                .entered_at(160.0)
                .times(89),
        ])
        .collect()
}

#[test]
fn those_at_risk_between_steps_are_counted_from_the_lives_where_some_joined_late() {
    let lives = joined_late();
    let found = report(lives.clone());
    let chart = SurvivalChart::from_report(&found, "s", "Belt", ScaleWords::FLIGHTS)
        .unwrap()
        .counted_from(Sample::new(lives).unwrap());
    let ages = [0.0, 50.0, 58.0, 150.0, 160.0, 161.0, 195.0];
    let numbers = vec![10, 10, 2, 2, 2, 92, 2];
    assert_eq!(chart.numbers_at_risk(&ages), Some(numbers));
    let group = [("all", &found, chart.at_risk.clone())];
    let (subject, scale) = ("Belt", ScaleWords::FLIGHTS);
    let groups = GroupsChart::of_groups(group.into_iter(), None, subject, scale);
    for drawn in [survival_curve_file(&chart), for_file(&groups).unwrap()] {
        assert!(drawn.contains(">At risk</text>"));
        // Ticks stand at 100, 150 and 200.
        assert!(drawn.matches(">2</text>").count() >= 3, "{drawn}");
        assert!(!drawn.contains(">92</text>"), "{drawn}");
    }
}

#[test]
fn a_stored_report_with_late_entries_shows_no_numbers_at_risk_and_says_why() {
    let found = report(joined_late());
    let chart = SurvivalChart::from_report(&found, "s", "Belt", ScaleWords::FLIGHTS).unwrap();
    assert_eq!(chart.numbers_at_risk(&[58.0]), None);
    assert!(!survival_curve_file(&chart).contains("At risk"));
    assert!(chart.reading().contains("Numbers at risk are left out"));
}

#[test]
fn the_hazard_has_limits_where_its_family_has_them_and_says_where_it_has_none() {
    let lives: Vec<_> = [60.0, 85.0, 90.0, 120.0, 130.0, 155.0]
        .into_iter()
        .map(Observation::exact)
        .chain([100.0, 140.0, 180.0, 200.0].map(Observation::right_censored))
        .collect();
    let sample = Sample::new(lives).unwrap();
    let level = Level::two_sided(0.9).unwrap();
    for family in Family::ALL.into_iter().chain([Family::Gamma]) {
        let options = Options {
            families: vec![family],
            ..Options::at(level)
        };
        let found = analyse(&sample, &options);
        let chart = HazardChart::from_report(&found, "h", "Belt", ScaleWords::FLIGHTS).unwrap();
        assert!(chart.reading().contains("Limits are left out"));
        let chart = chart.with_limits(&found, &sample, level);
        let (drawn, reading) = (for_file(&chart).unwrap(), chart.reading());
        let places = &chart.places;
        let limited: Vec<_> = places
            .iter()
            .filter(|place| place.lower.is_some())
            .collect();
        if family == Family::Gamma {
            assert!(limited.is_empty() && !drawn.contains("class=\"band\""));
            assert!(
                reading.contains("do not exist for the gamma model"),
                "{reading}"
            );
            continue;
        }
        assert!(drawn.contains("class=\"band\""), "{family:?}");
        assert!(limited.len() * 10 >= places.len() * 9, "{family:?}");
        let gaps = limited.len() < places.len();
        assert_eq!(reading.contains("Limits are left out"), gaps, "{reading}");
        for place in limited {
            let (lower, upper) = (place.lower.unwrap(), place.upper.unwrap());
            assert!(lower < place.hazard && place.hazard < upper, "{place:?}");
        }
    }
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
