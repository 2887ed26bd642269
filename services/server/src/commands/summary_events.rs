//! Recurring events in plain text.

use super::read_events::UnitHistory;
use super::summary_figures::{age, chance, columns, counted, figure, limits, percent};
use std::fmt::Write;
use wearbook_analysis::report::{PowerLawLimitsKind, RecurrenceReport, TrendReport};

/// More units than this are counted, not listed.
const MOST_UNITS: usize = 40;

/// More steps than this are thinned evenly; `--json` and the plot have all of them.
const MOST_STEPS: usize = 40;

/// What was read, a line for each unit, and what the engine says of it.
pub fn events_summary(units: &[UnitHistory], report: &RecurrenceReport) -> String {
    let mut text = String::new();
    let total: usize = units.iter().map(|unit| unit.events.len()).sum();
    let _ = writeln!(
        text,
        "{} with {}.\n",
        counted(units.len() as u64, "unit", "units"),
        counted(total as u64, "event", "events")
    );
    let mut rows = vec![["unit", "events", "watched to"].map(str::to_owned).to_vec()];
    rows.extend(units.iter().take(MOST_UNITS).map(|unit| {
        let last = unit.events.last().copied();
        vec![
            unit.unit.clone(),
            unit.events.len().to_string(),
            match (unit.watched_to, last) {
                (Some(end), _) => age(end),
                (None, Some(last)) => format!("{} (its last event)", age(last)),
                (None, None) => "-".to_owned(),
            },
        ]
    }));
    text.push_str(&columns(&rows));
    if units.len() > MOST_UNITS {
        let _ = writeln!(text, "and {} more.", units.len() - MOST_UNITS);
    }
    write_mean(&mut text, report);
    write_power_law(&mut text, report);
    write_tests(&mut text, report);
    for warning in &report.warnings {
        let _ = writeln!(text, "caution: {}", warning.message);
    }
    text
}

fn write_mean(text: &mut String, report: &RecurrenceReport) {
    let points = &report.mean_cumulative_function;
    if points.is_empty() {
        return;
    }
    let _ = writeln!(
        text,
        "\nMean number of events per unit ({} robust log limits)\n",
        percent(report.level)
    );
    let stride = points.len().div_ceil(MOST_STEPS).max(1);
    let mut rows = vec![
        ["age", "watched", "events", "mean", "limits"]
            .map(str::to_owned)
            .to_vec(),
    ];
    // The last step stands for everything before it, so the thinned ones count from the end.
    let offset = (points.len() - 1) % stride;
    rows.extend(points.iter().skip(offset).step_by(stride).map(|point| {
        vec![
            age(point.age),
            point.at_risk.to_string(),
            point.events.to_string(),
            figure(Some(point.mean)),
            limits(point.lower, point.upper),
        ]
    }));
    text.push_str(&columns(&rows));
    if stride > 1 {
        let _ = writeln!(
            text,
            "\nOne in {stride} of {} steps is shown; --json has all.",
            points.len()
        );
    }
}

fn write_power_law(text: &mut String, report: &RecurrenceReport) {
    let Some(law) = &report.power_law else {
        return;
    };
    let _ = writeln!(
        text,
        "\nPower law: events at the rate lambda x shape x age^(shape - 1) ({} limits)\n",
        percent(report.level)
    );
    let made = |kind: Option<PowerLawLimitsKind>| match kind {
        Some(PowerLawLimitsKind::Exact) => "exact",
        Some(PowerLawLimitsKind::LikelihoodRatio) => "likelihood ratio",
        Some(PowerLawLimitsKind::Delta) => "delta method",
        None => "",
    };
    let row = |name: &str, value: Option<f64>, limits: String, note: &str| {
        vec![name.to_owned(), figure(value), limits, note.to_owned()]
    };
    let (shape, between) = (law.shape, law.mean_between_events);
    let mut rows = vec![
        row(
            "shape",
            shape.value,
            limits(shape.lower, shape.upper),
            made(law.shape_limits),
        ),
        row("lambda", law.lambda, String::new(), ""),
        row(
            "age by which one event is expected",
            law.scale,
            String::new(),
            "",
        ),
        row(
            "mean between events at the longest age",
            between.value,
            limits(between.lower, between.upper),
            made(law.mean_limits),
        ),
    ];
    if law.shape_unbiased.is_some() {
        let name = "shape, corrected for bias";
        rows.insert(1, row(name, law.shape_unbiased, String::new(), ""));
    }
    text.push_str(&columns(&rows));
    let _ = writeln!(text, "\nlog-likelihood {:.2}", law.log_likelihood);
}

fn write_tests(text: &mut String, report: &RecurrenceReport) {
    let mut rows = Vec::new();
    for (name, test) in [
        ("Laplace", &report.laplace),
        ("MIL-HDBK-189", &report.mil_hdbk_189),
    ] {
        let Some(test) = test else { continue };
        rows.push(trend(name, test));
    }
    if !rows.is_empty() {
        let heads = [
            "trend test",
            "statistic",
            "p improving",
            "p deteriorating",
            "p either way",
        ];
        rows.insert(0, heads.map(str::to_owned).to_vec());
        text.push('\n');
        text.push_str(&columns(&rows));
        let _ = writeln!(
            text,
            "Improving: events come ever more seldom; deteriorating: ever more often. p is the chance of a sign at least this\nstrong if events came at a constant rate."
        );
    }
    if let Some(found) = &report.cramer_von_mises {
        let verdict = found.rejected_at.map_or_else(
            || "the power law is not rejected".to_owned(),
            |at| format!("the power law is rejected at the level of {}", percent(at)),
        );
        let ages = if found.by_ratio {
            " (ages as shares of each unit's end)"
        } else {
            ""
        };
        let _ = writeln!(
            text,
            "\nDistance of Cramér and von Mises {}{ages}: {verdict}.",
            figure(Some(found.statistic))
        );
    }
}

fn trend(name: &str, test: &TrendReport) -> Vec<String> {
    vec![
        name.to_owned(),
        figure(Some(test.statistic)),
        chance(test.p_improving),
        chance(test.p_deteriorating),
        chance(test.p_two_sided),
    ]
}
