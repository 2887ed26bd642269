//! The plots of an analysis as files.

use crate::analyses::Analysis;
use crate::pages::charts::{
    ProbabilityChart, SurvivalChart, probability_plot_file, survival_curve_file,
};
use crate::pages::figures::ScaleWords;
use std::path::Path;

/// Writes every plot that the analysis allows; why another is missing is said on standard error.
pub fn write_plots(folder: &Path, analysis: &Analysis) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let report = &analysis.report;
    let curve = SurvivalChart::from_report(report, "survival-curve", "Lives", ScaleWords::BARE);
    write_plot(
        folder,
        "survival-curve.svg",
        curve.map(|chart| survival_curve_file(&chart)),
    )?;
    let plot = ProbabilityChart::from_report(report, "probability-plot", "Lives", ScaleWords::BARE);
    write_plot(
        folder,
        "probability-plot.svg",
        plot.map(|chart| probability_plot_file(&chart)),
    )
}

/// A chart that cannot be drawn is said, not left out in silence.
fn write_plot(folder: &Path, name: &str, chart: Result<String, String>) -> std::io::Result<()> {
    match chart {
        Ok(svg) => std::fs::write(folder.join(name), svg),
        Err(why) => {
            eprintln!("wearbook analyse: no {name}: {why}");
            Ok(())
        }
    }
}
