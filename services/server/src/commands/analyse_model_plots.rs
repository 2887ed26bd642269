//! The plots of hazards, causes and recurring events as files.

use super::analyse_plots::write_plot;
use crate::analyses::{Analysis, Lives};
use crate::pages::charts::{Chart, HazardChart, IncidenceChart, MeanCumulativeChart, for_file};
use crate::pages::figures::ScaleWords;
use std::path::Path;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::report::RecurrenceReport;

/// Writes the hazard of the chosen model and, where causes are told apart, the share failed of each.
pub fn write_model_plots(
    folder: &Path,
    analysis: &Analysis,
    lives: &Lives,
    level: Level,
) -> std::io::Result<()> {
    let report = &analysis.report;
    let hazard =
        HazardChart::from_report(report, "hazard", "Lives", ScaleWords::BARE).map(|chart| {
            let sample = lives.sample(analysis.cause.as_deref());
            chart.with_limits(report, &sample, level)
        });
    write_plot(folder, "hazard.svg", drawn(hazard))?;
    if report.causes.len() > 1 {
        let incidence = IncidenceChart::from_report(report, "incidence", "Lives", ScaleWords::BARE);
        write_plot(folder, "incidence.svg", drawn(incidence))?;
    }
    Ok(())
}

/// Writes the mean number of events per unit.
pub fn write_event_plots(folder: &Path, report: &RecurrenceReport) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let name = "mean-cumulative-function";
    let chart = MeanCumulativeChart::from_report(report, name, "Units", ScaleWords::BARE);
    write_plot(folder, "mean-cumulative-function.svg", drawn(chart))
}

fn drawn(chart: Result<impl Chart, String>) -> Result<String, String> {
    for_file(&chart?).ok_or_else(|| "there is nothing to draw.".to_owned())
}
