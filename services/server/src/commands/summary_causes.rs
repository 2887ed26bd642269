//! Causes of failure beside each other, in plain text.

use super::summary_figures::{
    age, columns, figure, limits, made, percent, share_limits, write_cautions,
};
use std::collections::BTreeMap;
use std::fmt::Write;
use wearbook_analysis::report::{IncidenceReport, ModesReport};

/// More steps of a cause than this are thinned evenly; `--json` and the plot have all of them.
const MOST_STEPS: usize = 12;

fn named(cause: Option<&str>) -> String {
    cause.unwrap_or("no cause").to_owned()
}

/// The share failed of each cause.
pub fn write_incidence(text: &mut String, incidence: &IncidenceReport) {
    let _ = writeln!(
        text,
        "\nFailed of each cause, while the others act too ({} log-log limits)\n",
        percent(incidence.limits.level)
    );
    let mut rows = vec![
        ["cause", "age", "failed", "share", "limits"]
            .map(str::to_owned)
            .to_vec(),
    ];
    let mut thinned = false;
    for curve in &incidence.causes {
        let stride = curve.points.len().div_ceil(MOST_STEPS).max(1);
        thinned |= stride > 1;
        // The last step is the share in the end, so the thinned ones count from there.
        let offset = curve.points.len().saturating_sub(1) % stride;
        let shown = curve.points.iter().skip(offset).step_by(stride);
        for (place, point) in shown.enumerate() {
            rows.push(vec![
                if place == 0 {
                    named(curve.cause.as_deref())
                } else {
                    String::new()
                },
                age(point.time),
                point.failed.to_string(),
                format!("{:.3}", point.incidence),
                share_limits(point.lower, point.upper),
            ]);
        }
    }
    text.push_str(&columns(&rows));
    if thinned {
        let _ = writeln!(text, "\nNot every step is shown; --json has all.");
    }
}

/// The fit of each cause, and of all of them in series.
pub fn write_modes(text: &mut String, found: &ModesReport, level: f64) {
    let models = found.modes.iter().map(|mode| &mode.model);
    let parameters = models
        .flat_map(|model| model.parameters.iter().flat_map(BTreeMap::values))
        .filter(|one| one.lower.or(one.upper).is_some());
    let _ = writeln!(
        text,
        "\nCauses fitted apart by the {} ({} limits{})\n",
        found.family.code(),
        percent(level),
        made(parameters.map(|one| one.kind))
    );
    let mut rows = Vec::new();
    for mode in &found.modes {
        let name = named(mode.cause.as_deref());
        if mode.model.parameters.is_none() {
            rows.push(vec![name, "no fit".to_owned()]);
            continue;
        }
        for (place, (parameter, fitted)) in mode.model.parameters.iter().flatten().enumerate() {
            rows.push(vec![
                if place == 0 {
                    name.clone()
                } else {
                    String::new()
                },
                parameter.clone(),
                figure(Some(fitted.value)),
                limits(fitted.lower, fitted.upper),
            ]);
        }
    }
    text.push_str(&columns(&rows));
    if !found.quantiles.is_empty() {
        let mut rows = vec![
            [
                "all causes, failed, in 100",
                "by age",
                "limits by the delta method",
            ]
            .map(str::to_owned)
            .to_vec(),
        ];
        rows.extend(found.quantiles.iter().map(|quantile| {
            vec![
                age(quantile.p * 100.0),
                figure(quantile.value),
                limits(quantile.lower, quantile.upper),
            ]
        }));
        text.push('\n');
        text.push_str(&columns(&rows));
    }
    if let Some(comparison) = &found.comparison {
        let _ = writeln!(text, "\n{}", comparison.statement);
    }
    for mode in &found.modes {
        let name = match &mode.cause {
            Some(cause) => format!("cause {cause}"),
            None => "no cause".to_owned(),
        };
        write_cautions(text, &name, &mode.model.warnings);
    }
    for warning in &found.warnings {
        let _ = writeln!(text, "caution: {}", warning.message);
    }
}
