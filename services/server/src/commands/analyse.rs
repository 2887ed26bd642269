//! `wearbook analyse`: fit lives from a CSV file, without a database.

use super::Exit;
use super::analyse_model_plots::{write_event_plots, write_model_plots};
use super::analyse_plots::write_plots;
use super::read_events::{histories, read_events};
use super::read_lives::{NamedColumns, read_lives};
use super::read_table::RowFault;
use super::summary::summary;
use super::summary_events::events_summary;
use crate::analyses::{Analysis, GroupReport, LimitsWord, Question, QuestionFault, analyse};
use clap::Args;
use serde::Serialize;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::report::{Comparison, RegressionReport, Report, recurrence};

/// What to read and what to print.
#[derive(Debug, Args)]
#[command(
    after_help = "Lives. Columns: entry, lower, upper, cause, count; any subset that makes sense, and those that --by and --covariates name.\n  \
    upper empty or inf: not seen to fail. lower = upper: failed at that age. lower < upper: failed in between.\n  \
    entry: age at which watching began. count: how many identical lives a row stands for.\n\
Recurring events. Columns: unit, time, event; one row an event (event 1), and one row at the age at which a unit was\n  \
    last watched (event 0). Without that row a unit was watched to its last event. The column may also be named status.\n\
Examples:\n  wearbook analyse lives.csv\n  wearbook analyse - --json < lives.csv\n  wearbook analyse lives.csv --level 0.9 --svg plots\n  \
  wearbook analyse lives.csv --family weibull --family lognormal --cause wear\n  wearbook analyse lives.csv --by lot\n  \
  wearbook analyse lives.csv --covariates load,heat --family lognormal\n  wearbook analyse lives.csv --limits bootstrap --seed 7\n  \
  wearbook analyse repairs.csv --recurrent --svg plots\n\
Exit codes: 0 done, 1 a file cannot be written, 2 input not valid (every bad cell is listed) or wrong options."
)]
pub struct AnalyseOptions {
    /// CSV file; `-` reads standard input.
    lives: PathBuf,
    /// Fit this family; may be given several times. weibull, exponential, lognormal and loglogistic unless said.
    #[arg(long, value_name = "NAME", value_parser = family)]
    family: Vec<Family>,
    /// Count failures of this cause only; a failure of another cause ends its life unfailed.
    #[arg(long, value_name = "NAME")]
    cause: Option<String>,
    /// Analyse each group that this column names, and compare the groups.
    #[arg(long, value_name = "COLUMN", value_parser = column)]
    by: Option<String>,
    /// Columns that hold a number for each life, separated by commas: life as it depends on them, by the families named
    /// (the Weibull unless said) and by proportional hazards.
    #[arg(long, value_name = "COLUMNS", value_delimiter = ',', value_parser = column)]
    covariates: Vec<String>,
    /// The file holds recurring events of units that are repaired and go on.
    #[arg(long, conflicts_with_all = ["family", "cause", "by", "covariates", "limits", "seed", "resamples"])]
    recurrent: bool,
    /// How limits of parameters and ages are made.
    #[arg(long, value_name = "METHOD", value_enum, default_value_t)]
    limits: LimitsWord,
    /// Seed of the samples drawn, for --limits bootstrap: 1 unless said. The same seed gives the same limits.
    #[arg(long, value_name = "NUMBER")]
    seed: Option<u64>,
    /// Samples drawn for each limit, for --limits bootstrap: 999 unless said.
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(100..=100_000))]
    resamples: Option<u32>,
    /// Confidence level of all limits (two-sided).
    #[arg(long, default_value_t = 0.95, value_parser = level)]
    level: f64,
    /// Print the whole result as JSON.
    #[arg(long)]
    json: bool,
    /// Write the plots as SVG files into this folder.
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

fn family(text: &str) -> Result<Family, String> {
    let known = || Family::EVERY.map(Family::code).join(", ");
    Family::EVERY
        .into_iter()
        .find(|family| family.code() == text)
        .ok_or_else(|| format!("one of {}", known()))
}

fn column(text: &str) -> Result<String, String> {
    if super::read_lives::COLUMNS.contains(&text) {
        Err(format!(
            "a column beside {}",
            super::read_lives::COLUMNS.join(", ")
        ))
    } else if text.trim().is_empty() {
        Err("the name of a column".to_owned())
    } else {
        Ok(text.trim().to_owned())
    }
}

/// Shares close enough for a smooth band over the whole of a probability plot.
const SHARES_DRAWN: [f64; 12] = [
    0.001, 0.003, 0.01, 0.03, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9, 0.99,
];

/// How a run ended before its answer was printed; what happened was said.
type Stopped = Exit;

/// Analyses.
pub fn run(options: &AnalyseOptions) -> Exit {
    let text = if options.recurrent {
        recurring(options)
    } else {
        lives(options)
    };
    match text {
        Ok(text) => print(&text),
        Err(exit) => exit,
    }
}

fn lives(options: &AnalyseOptions) -> Result<String, Stopped> {
    let named = named_columns(options)?;
    let lives = read(&options.lives, |source| read_lives(source, &named))?;
    let question = question(options)?;
    let refused = |fault: QuestionFault| refuse(&format!("--cause: {fault}"));
    let analysis = analyse(&lives, &question).map_err(refused)?;
    if let Some(folder) = &options.svg {
        let level = question.level;
        let drawn = Question {
            shares: SHARES_DRAWN.to_vec(),
            ..question
        };
        let drawn = analyse(&lives, &drawn).map_err(refused)?;
        write_plots(folder, &drawn, &lives)
            .and_then(|()| write_model_plots(folder, &analysis, &lives, level))
            .map_err(|error| {
                say(&format!("{}: {error}", folder.display()));
                Exit::Failed
            })?;
    }
    if options.json {
        json(&Printed::from(&analysis))
    } else {
        Ok(summary(&analysis, &lives, options.level))
    }
}

fn recurring(options: &AnalyseOptions) -> Result<String, Stopped> {
    let units = read(&options.lives, read_events)?;
    let histories = histories(&units).map_err(|error| refuse(&error.to_string()))?;
    let report = recurrence(&histories, confidence(options)?);
    if let Some(folder) = &options.svg {
        write_event_plots(folder, &report).map_err(|error| {
            say(&format!("{}: {error}", folder.display()));
            Exit::Failed
        })?;
    }
    if options.json {
        json(&report)
    } else {
        Ok(events_summary(&units, &report))
    }
}

fn named_columns(options: &AnalyseOptions) -> Result<NamedColumns, Stopped> {
    let mut names: Vec<&String> = options.covariates.iter().chain(&options.by).collect();
    names.sort();
    if names.windows(2).any(|pair| pair.first() == pair.last()) {
        return Err(refuse("--by and --covariates: each column once"));
    }
    Ok(NamedColumns {
        group: options.by.clone(),
        covariates: options.covariates.clone(),
    })
}

fn question(options: &AnalyseOptions) -> Result<Question, Stopped> {
    let mut families = options.family.clone();
    let mut seen = Vec::new();
    families.retain(|family| {
        let new = !seen.contains(family);
        seen.push(*family);
        new
    });
    let method = options
        .limits
        .method(options.seed, options.resamples)
        .ok_or_else(|| refuse("--seed and --resamples: only with --limits bootstrap"))?;
    let question = Question {
        cause: options.cause.clone(),
        level: confidence(options)?,
        method,
        ..Question::default()
    };
    Ok(if families.is_empty() {
        question
    } else {
        question.of_families(families)
    })
}

fn confidence(options: &AnalyseOptions) -> Result<Level, Stopped> {
    Level::two_sided(options.level).map_err(|error| refuse(&format!("--level: {error}")))
}

/// The report's own members, as they always stood, and beside them what else was asked for.
#[derive(Serialize)]
struct Printed<'a> {
    #[serde(flatten)]
    report: &'a Report,
    engine_version: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    cause: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    groups: Option<&'a [GroupReport]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    comparison: Option<&'a Comparison>,
    #[serde(skip_serializing_if = "Option::is_none")]
    regression: Option<&'a RegressionReport>,
}

impl<'a> From<&'a Analysis> for Printed<'a> {
    fn from(analysis: &'a Analysis) -> Self {
        Self {
            report: &analysis.report,
            engine_version: analysis.engine_version,
            cause: analysis.cause.as_deref(),
            groups: analysis.groups.as_deref(),
            comparison: analysis.comparison.as_ref(),
            regression: analysis.regression.as_ref(),
        }
    }
}

fn json(value: &impl Serialize) -> Result<String, Stopped> {
    let mut text = serde_json::to_string_pretty(value).map_err(|error| {
        say(&error.to_string());
        Exit::Failed
    })?;
    text.push('\n');
    Ok(text)
}

/// Reads the file or standard input; says every fault.
fn read<T>(
    path: &Path,
    reader: impl FnOnce(Box<dyn Read>) -> Result<T, Vec<RowFault>>,
) -> Result<T, Stopped> {
    let source: Box<dyn Read> = if path.as_os_str() == "-" {
        Box::new(std::io::stdin().lock())
    } else {
        Box::new(File::open(path).map_err(|error| refuse(&format!("{}: {error}", path.display())))?)
    };
    reader(source).map_err(|faults| {
        for fault in faults {
            say(&fault.to_string());
        }
        Exit::BadInput
    })
}

fn say(words: &str) {
    eprintln!("wearbook analyse: {words}");
}

fn refuse(words: &str) -> Stopped {
    say(words);
    Exit::BadInput
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
