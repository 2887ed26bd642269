//! `wearbook analyse`: fit lives from a CSV file, without a database.

use super::Exit;
use super::analyse_model_plots::{write_event_plots, write_model_plots};
use super::analyse_plots::write_plots;
use super::read_events::{histories, read_events};
use super::read_lives::{NamedColumns, read_lives};
use super::read_table::RowFault;
use super::summary::summary;
use super::summary_events::events_summary;
use crate::analyses::{Analysis, GroupReport, Question, QuestionFault, analyse, method_of};
use clap::Args;
use serde::Serialize;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::report::{Comparison, LimitsKind, RegressionReport, Report, recurrence};

/// What to read and what to print.
#[derive(Debug, Args)]
#[command(
    after_help = "Lives. A row is a life, or as many identical ones as its count says. Columns: lower or upper, and any of entry, cause,\n  \
    count, and those that --by and --covariates name.\n  \
    lower: last age at which it was known to work. upper: age at which it was known to have failed.\n  \
    upper empty or inf: not seen to fail. lower = upper: failed at that age. lower < upper: failed in between.\n  \
    Without a column upper every life failed at its lower; without lower nothing is known before upper.\n  \
    entry: age at which watching began, 0 unless said. cause: why it failed. count: 1 unless said.\n\
Recurring events. Columns: unit, age, event. One row for each event of a unit (event 1), and one at the age at which the\n  \
    unit was last watched (event 0). Without that row a unit was watched to its last event.\n\
Examples:\n  wearbook analyse lives.csv\n  wearbook analyse - --json < lives.csv\n  wearbook analyse lives.csv --level 0.9 --svg plots\n  \
  wearbook analyse lives.csv --family weibull --family lognormal --cause wear\n  wearbook analyse lives.csv --by lot\n  \
  wearbook analyse lives.csv --covariates load,heat --family lognormal\n  wearbook analyse lives.csv --limits bootstrap --seed 7\n  \
  wearbook analyse repairs.csv --recurrent --svg plots\n\
Exit codes: 0 done, 1 a file cannot be written, 2 input not valid (every bad cell is listed) or wrong options."
)]
pub struct AnalyseOptions {
    /// CSV file; `-` reads standard input.
    #[arg(value_name = "FILE")]
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
    /// How limits of parameters and ages are made: modified-root (the likelihood ratio, modified for few failures),
    /// likelihood-ratio, delta (a normal estimate) or bootstrap (samples drawn from the fit). modified-root unless said.
    #[arg(long, value_name = "METHOD", value_parser = limits_kind)]
    limits: Option<LimitsKind>,
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

fn limits_kind(text: &str) -> Result<LimitsKind, String> {
    let known = || LimitsKind::EVERY.map(LimitsKind::code).join(", ");
    LimitsKind::EVERY
        .into_iter()
        .find(|kind| kind.code() == text)
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

/// Analyses. Below, an `Exit` in the place of an error ended the run before its answer; what happened was said.
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

fn lives(options: &AnalyseOptions) -> Result<String, Exit> {
    let named = named_columns(options)?;
    let lives = read(&options.lives, |source| read_lives(source, &named))?;
    let question = question(options)?;
    let analysis = analyse(&lives, &question)
        .map_err(|fault: QuestionFault| refuse(&format!("--cause: {fault}")))?;
    if let Some(folder) = &options.svg {
        write_plots(folder, &analysis, &question, &lives)
            .and_then(|()| write_model_plots(folder, &analysis, &lives, question.level))
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

fn recurring(options: &AnalyseOptions) -> Result<String, Exit> {
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

fn named_columns(options: &AnalyseOptions) -> Result<NamedColumns, Exit> {
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

fn question(options: &AnalyseOptions) -> Result<Question, Exit> {
    let mut families = options.family.clone();
    let mut seen = Vec::new();
    families.retain(|family| {
        let new = !seen.contains(family);
        seen.push(*family);
        new
    });
    let kind = options.limits.unwrap_or_default();
    let method = method_of(kind, options.seed, options.resamples)
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

fn confidence(options: &AnalyseOptions) -> Result<Level, Exit> {
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

fn json(value: &impl Serialize) -> Result<String, Exit> {
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
) -> Result<T, Exit> {
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

fn refuse(words: &str) -> Exit {
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
