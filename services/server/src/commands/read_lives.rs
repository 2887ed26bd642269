//! Lives from CSV: columns `entry`, `lower`, `upper`, `cause`, `count`. All faults are found before any is reported.

use std::collections::HashMap;
use std::io::Read;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::{Sample, SampleError};

const COLUMNS: [&str; 5] = ["entry", "lower", "upper", "cause", "count"];

/// One cell, or one row, that breaks a rule.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct RowFault {
    /// Physical line, the header being line 1.
    pub line: u64,
    /// Name of the column; empty when the whole row is meant.
    pub column: String,
    /// What was found.
    pub value: String,
    /// What is expected.
    pub rule: String,
}

impl std::fmt::Display for RowFault {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let place = if self.column.is_empty() {
            "row"
        } else {
            &self.column
        };
        write!(
            formatter,
            "line {}, {place}: {:?}: {}",
            self.line, self.value, self.rule
        )
    }
}

fn fault(line: u64, column: &str, value: &str, rule: &str) -> RowFault {
    RowFault {
        line,
        column: column.to_owned(),
        value: value.to_owned(),
        rule: rule.to_owned(),
    }
}

/// Reads lives. Without a column `upper` every row is an exact failure; without `lower` nothing is known before `upper`.
///
/// # Errors
/// Every fault of every row.
pub fn read_lives(source: impl Read) -> Result<Sample, Vec<RowFault>> {
    let mut text = Vec::new();
    let mut source = source;
    source
        .read_to_end(&mut text)
        .map_err(|error| vec![fault(1, "", "", &format!("cannot be read: {error}"))])?;
    let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&text);
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text);
    let header = reader
        .headers()
        .map_err(|error| vec![fault(1, "", "", &error.to_string())])?
        .clone();
    let places = places_of(&header)?;
    let mut faults = Vec::new();
    let mut lives = Vec::new();
    let mut lines = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = error.position().map_or(0, csv::Position::line);
                faults.push(fault(line, "", "", &error.to_string()));
                continue;
            }
        };
        let line = record.position().map_or(0, csv::Position::line);
        if record.len() != header.len() {
            let rule = format!("as many cells as the header, {}", header.len());
            faults.push(fault(line, "", &format!("{} cells", record.len()), &rule));
            continue;
        }
        if let Some(life) = life_of(&record, &places, line, &mut faults) {
            lives.push(life);
            lines.push(line);
        }
    }
    let sample = Sample::new(lives).map_err(|error| rule_faults(&error, &lines));
    match sample {
        Ok(sample) if faults.is_empty() => Ok(sample),
        outcome => {
            faults.extend(outcome.err().unwrap_or_default());
            faults.sort_by_key(|fault| fault.line);
            Err(faults)
        }
    }
}

fn places_of(header: &csv::StringRecord) -> Result<HashMap<&str, usize>, Vec<RowFault>> {
    let mut places = HashMap::new();
    let mut faults = Vec::new();
    for (place, name) in header.iter().enumerate() {
        if !COLUMNS.contains(&name) {
            faults.push(fault(
                1,
                name,
                name,
                "a column named entry, lower, upper, cause or count, separated by commas",
            ));
        } else if places.insert(name, place).is_some() {
            faults.push(fault(1, name, name, "each column once"));
        }
    }
    if faults.is_empty() && !places.contains_key("lower") && !places.contains_key("upper") {
        faults.push(fault(1, "lower", "", "a column lower or upper is needed"));
    }
    if faults.is_empty() {
        Ok(places)
    } else {
        Err(faults)
    }
}

fn life_of(
    record: &csv::StringRecord,
    places: &HashMap<&str, usize>,
    line: u64,
    faults: &mut Vec<RowFault>,
) -> Option<Observation> {
    let before = faults.len();
    let cell = |name: &str| places.get(name).and_then(|place| record.get(*place));
    let number = |name: &str, absent: f64, faults: &mut Vec<RowFault>| match cell(name) {
        None | Some("") => absent,
        Some(text) => text
            .parse::<f64>()
            .ok()
            .filter(|value| value.is_finite())
            .unwrap_or_else(|| {
                faults.push(fault(
                    line,
                    name,
                    text,
                    "a finite number with a decimal point",
                ));
                absent
            }),
    };
    let entry = number("entry", 0.0, faults);
    let lower = number("lower", entry, faults);
    let upper = match cell("upper") {
        None => lower,
        Some("") => f64::INFINITY,
        Some(text) if text.eq_ignore_ascii_case("inf") => f64::INFINITY,
        Some(_) => number("upper", f64::INFINITY, faults),
    };
    let count = match cell("count") {
        None | Some("") => 1,
        Some(text) => text.parse::<u64>().unwrap_or_else(|_| {
            faults.push(fault(line, "count", text, "a whole number above 0"));
            1
        }),
    };
    let cause = cell("cause")
        .filter(|cause| !cause.is_empty())
        .map(str::to_owned);
    (faults.len() == before).then_some(Observation {
        entry,
        lower,
        upper,
        cause,
        count,
    })
}

/// The rules of the sample, in the lines of the file.
fn rule_faults(error: &SampleError, lines: &[u64]) -> Vec<RowFault> {
    error
        .faults
        .iter()
        .map(|found| {
            fault(
                lines.get(found.row).copied().unwrap_or(0),
                found.field,
                &found.value,
                found.rule,
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_life_is_read() {
        let text = "entry,lower,upper,cause,count\n0,5,5,wear,2\n,7,,,\n1,3,inf,,4\n0,0,9,,\n2,4,6,split,1\n";
        let sample = read_lives(text.as_bytes()).unwrap();
        assert_eq!(
            (sample.lives(), sample.failures(), sample.right_censored()),
            (9, 4, 5)
        );
        assert_eq!(
            (
                sample.left_censored(),
                sample.interval_censored(),
                sample.delayed_entry()
            ),
            (1, 1, 5)
        );
    }

    #[test]
    fn a_lone_column_of_ages_is_a_complete_sample() {
        let sample = read_lives("lower\n1\n2\n3\n".as_bytes()).unwrap();
        assert_eq!((sample.lives(), sample.failures()), (3, 3));
    }

    #[test]
    fn a_byte_order_mark_and_windows_line_ends_do_no_harm() {
        let sample = read_lives("\u{feff}lower,upper\r\n1,1\r\n2,\r\n".as_bytes()).unwrap();
        assert_eq!((sample.lives(), sample.failures()), (2, 1));
    }

    #[test]
    fn every_fault_is_reported_at_once_with_its_true_line() {
        let text = "lower,upper,cause,count\n1,1,\"two\nlines\",1\nx,2,,1\n3,2,,1\n4,4,,0\n5,nan,,1\n6,6\n";
        let faults = read_lives(text.as_bytes()).unwrap_err();
        let places: Vec<_> = faults
            .iter()
            .map(|one| (one.line, one.column.as_str()))
            .collect();
        assert_eq!(
            places,
            [
                (4, "lower"),
                (5, "upper"),
                (6, "count"),
                (7, "upper"),
                (8, "")
            ]
        );
        assert_eq!(faults[0].value, "x");
    }

    #[test]
    fn an_unknown_column_and_another_separator_are_named() {
        let faults = read_lives("lower;upper\n1;2\n".as_bytes()).unwrap_err();
        assert_eq!(faults[0].column, "lower;upper");
        assert!(read_lives("cause\nx\n".as_bytes()).is_err());
        assert!(read_lives("lower,lower\n1,2\n".as_bytes()).is_err());
    }
}
