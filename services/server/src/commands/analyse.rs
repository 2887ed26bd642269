//! `wearbook analyse`: fit lives from a CSV file, without a database.

use super::Exit;
use super::read_lives::read_lives;
use super::summary::summary;
use crate::pages::charts::{
    ProbabilityChart, SurvivalChart, probability_plot_file, survival_curve_file,
};
use crate::pages::figures::ScaleWords;
use clap::Args;
use std::fs::File;
use std::path::{Path, PathBuf};
use wearbook_analysis::intervals::Level;
use wearbook_analysis::report::{Options, Report, analyse};
use wearbook_analysis::sample::Sample;

/// What to read and what to print.
#[derive(Debug, Args)]
#[command(
    after_help = "Columns: entry, lower, upper, cause, count; any subset that makes sense.\n  \
    upper empty or inf: not seen to fail. lower = upper: failed at that age. lower < upper: failed in between.\n  \
    entry: age at which watching began. count: how many identical lives a row stands for.\n\
Examples:\n  wearbook analyse lives.csv\n  wearbook analyse - --json < lives.csv\n  wearbook analyse lives.csv --level 0.9 --svg plots\n\
Exit codes: 0 done, 1 a file cannot be written, 2 input not valid (every bad cell is listed)."
)]
pub struct AnalyseOptions {
    /// CSV file; `-` reads standard input.
    lives: PathBuf,
    /// Confidence level of all limits (two-sided).
    #[arg(long, default_value_t = 0.95, value_parser = level)]
    level: f64,
    /// Print the whole result as JSON.
    #[arg(long)]
    json: bool,
    /// Write survival-curve.svg and probability-plot.svg into this folder.
    #[arg(long, value_name = "DIR")]
    svg: Option<PathBuf>,
}

fn level(text: &str) -> Result<f64, String> {
    let value: f64 = text
        .parse()
        .map_err(|_| "a number between 0 and 1".to_owned())?;
    Level::two_sided(value)
        .map(Level::level)
        .map_err(|error| error.to_string())
}

fn read(path: &Path) -> Result<Sample, Vec<String>> {
    let faults = if path.as_os_str() == "-" {
        read_lives(std::io::stdin().lock())
    } else {
        let file =
            File::open(path).map_err(|error| vec![format!("{}: {error}", path.display())])?;
        read_lives(file)
    };
    faults.map_err(|faults| faults.iter().map(ToString::to_string).collect())
}

/// Analyses.
pub fn run(options: &AnalyseOptions) -> Exit {
    let sample = match read(&options.lives) {
        Ok(sample) => sample,
        Err(faults) => {
            for fault in faults {
                eprintln!("wearbook analyse: {fault}");
            }
            return Exit::BadInput;
        }
    };
    let Ok(level) = Level::two_sided(options.level) else {
        return Exit::BadInput;
    };
    let report = analyse(&sample, &Options::at(level));
    if let Some(folder) = &options.svg
        && let Err(error) = write_plots(folder, &report)
    {
        eprintln!("wearbook analyse: {}: {error}", folder.display());
        return Exit::Failed;
    }
    let text = if options.json {
        match serde_json::to_string_pretty(&report) {
            Ok(mut text) => {
                text.push('\n');
                text
            }
            Err(error) => {
                eprintln!("wearbook analyse: {error}");
                return Exit::Failed;
            }
        }
    } else {
        summary(&report, options.level)
    };
    print(&text)
}

/// A reader that closes early (such as `head`) is not a failure of ours, but neither is it a panic.
fn print(text: &str) -> Exit {
    use std::io::Write;
    match std::io::stdout().write_all(text.as_bytes()) {
        Ok(()) => Exit::Done,
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Exit::Done,
        Err(_) => Exit::Failed,
    }
}

fn write_plots(folder: &Path, report: &Report) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
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
