//! The plots of an analysis as files.

use crate::analyses::{Analysis, Lives, Question};
use crate::pages::charts::{
    AtRisk, GroupsChart, ProbabilityChart, SurvivalChart, for_file, probability_plot_file,
    survival_curve_file,
};
use crate::pages::figures::ScaleWords;
use std::path::Path;
use wearbook_analysis::families::Family;
use wearbook_analysis::report::{ModelReport, Options, Report, quantiles};
use wearbook_analysis::sample::Sample;

const SUBJECT: &str = "Lives";

/// Shares close enough for a smooth band over the whole of a probability plot.
const SHARES_DRAWN: [f64; 12] = [
    0.001, 0.003, 0.01, 0.03, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9, 0.99,
];

/// Writes every plot that the analysis allows; why another is missing is said on standard error.
pub fn write_plots(
    folder: &Path,
    analysis: &Analysis,
    question: &Question,
    lives: &Lives,
) -> std::io::Result<()> {
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
    let smooth = with_smooth_bands(report, &lives.sample(cause), question);
    for model in &smooth.models {
        let name = format!("probability-plot-{}.svg", model.family.code());
        write_plot(folder, &name, paper(&smooth, model.family))?;
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

/// The report with each model's ages at more shares, between those that it states anyway.
fn with_smooth_bands(report: &Report, sample: &Sample, question: &Question) -> Report {
    let stated = |share: &f64| question.shares.iter().any(|known| known == share);
    let options = Options {
        shares: SHARES_DRAWN
            .into_iter()
            .filter(|one| !stated(one))
            .collect(),
        method: question.method,
        ..Options::at(question.level)
    };
    let mut report = report.clone();
    let fitted = |model: &&mut ModelReport| model.parameters.is_some();
    for model in report.models.iter_mut().filter(fitted) {
        let more = quantiles(sample, model.family, &options);
        model.quantiles.extend(more);
        model.quantiles.sort_by(|a, b| a.p.total_cmp(&b.p));
    }
    report
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
