//! The plots of an analysis as files.

use crate::analyses::{Analysis, Lives};
use crate::pages::charts::{
    AtRisk, GroupsChart, ProbabilityChart, SurvivalChart, for_file, probability_plot_file,
    survival_curve_file,
};
use crate::pages::figures::ScaleWords;
use std::path::Path;
use wearbook_analysis::families::Family;
use wearbook_analysis::report::Report;

const SUBJECT: &str = "Lives";

/// Writes every plot that the analysis allows; why another is missing is said on standard error.
pub fn write_plots(folder: &Path, analysis: &Analysis, lives: &Lives) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let report = &analysis.report;
    let cause = analysis.cause.as_deref();
    let curve = SurvivalChart::from_report(report, "survival-curve", SUBJECT, ScaleWords::BARE)
        .map(|chart| chart.counted_from(lives.sample(cause)));
    write_plot(
        folder,
        "survival-curve.svg",
        curve.map(|chart| survival_curve_file(&chart)),
    )?;
    let first = report
        .chosen
        .as_ref()
        .map_or(Family::Weibull, |chosen| chosen.family);
    write_plot(folder, "probability-plot.svg", paper(report, first))?;
    for model in report
        .models
        .iter()
        .filter(|model| model.parameters.is_some())
    {
        let name = format!("probability-plot-{}.svg", model.family.code());
        write_plot(folder, &name, paper(report, model.family))?;
    }
    if let Some(groups) = &analysis.groups {
        let comparison = analysis.comparison.as_ref();
        // Both in order of name.
        let samples = lives.groups(cause).into_iter();
        let groups = groups.iter().zip(samples);
        let chart = GroupsChart::of_groups(
            groups
                .map(|(one, (_, sample))| (one.group.as_str(), &one.report, AtRisk::Lives(sample))),
            comparison,
            SUBJECT,
            ScaleWords::BARE,
        );
        let svg = for_file(&chart)
            .ok_or_else(|| "the survival of no group could be estimated.".to_owned());
        write_plot(folder, "survival-by-group.svg", svg)?;
    }
    Ok(())
}

fn paper(report: &Report, family: Family) -> Result<String, String> {
    let id = "probability-plot";
    let chart = ProbabilityChart::of_family(report, family, id, SUBJECT, ScaleWords::BARE);
    chart.map(|chart| probability_plot_file(&chart))
}

/// A chart that cannot be drawn is said, not left out in silence.
pub fn write_plot(folder: &Path, name: &str, chart: Result<String, String>) -> std::io::Result<()> {
    match chart {
        Ok(svg) => std::fs::write(folder.join(name), svg),
        Err(why) => {
            eprintln!("wearbook analyse: no {name}: {why}");
            Ok(())
        }
    }
}
