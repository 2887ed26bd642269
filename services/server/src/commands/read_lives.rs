//! Lives from CSV: columns `entry`, `lower`, `upper`, `cause`, `count`, and those that options name.

use super::read_table::{A_NUMBER, Row, RowFault, Table, finite};
use crate::analyses::{LifeFault, LifeRow, Lives};
use std::io::Read;
use wearbook_analysis::observation::Observation;

/// Columns that every file of lives may have.
pub const COLUMNS: [&str; 5] = ["entry", "lower", "upper", "cause", "count"];

/// Columns that a file has beside the usual ones.
#[derive(Debug, Clone, Default)]
pub struct NamedColumns {
    /// The column that names each life's group.
    pub group: Option<String>,
    /// The columns that hold a number for each life.
    pub covariates: Vec<String>,
}

/// Reads lives. Without a column `upper` every row is an exact failure; without `lower` nothing is known before `upper`.
///
/// # Errors
/// Every fault of every row.
pub fn read_lives(source: impl Read, named: &NamedColumns) -> Result<Lives, Vec<RowFault>> {
    let mut asked: Vec<&str> = named.covariates.iter().map(String::as_str).collect();
    asked.extend(named.group.as_deref());
    let mut table = Table::read(source, &COLUMNS, &asked)?;
    if !table.has("lower") && !table.has("upper") {
        let rule = "a column lower or upper is needed";
        return Err(vec![RowFault::new(1, "lower", "", rule)]);
    }
    let mut faults = std::mem::take(&mut table.faults);
    let mut rows = Vec::with_capacity(table.rows.len());
    let mut lines = Vec::with_capacity(table.rows.len());
    for row in &table.rows {
        if let Some(life) = life_of(&table, row, named, &mut faults) {
            rows.push(life);
            lines.push(row.line);
        }
    }
    match Lives::new(rows, named.covariates.clone()) {
        Ok(lives) if faults.is_empty() => Ok(lives),
        outcome => {
            let found = outcome.err().unwrap_or_default();
            faults.extend(found.into_iter().map(|fault| placed(fault, &lines)));
            faults.sort_by_key(|fault| fault.line);
            Err(faults)
        }
    }
}

fn life_of(
    table: &Table,
    row: &Row,
    named: &NamedColumns,
    faults: &mut Vec<RowFault>,
) -> Option<LifeRow> {
    let before = faults.len();
    let entry = table.number(row, "entry", 0.0, faults);
    let lower = table.number(row, "lower", entry, faults);
    let upper = match table.cell(row, "upper") {
        None => lower,
        Some("") => f64::INFINITY,
        Some(text) if text.eq_ignore_ascii_case("inf") => f64::INFINITY,
        Some(_) => table.number(row, "upper", f64::INFINITY, faults),
    };
    let count = match table.cell(row, "count") {
        None | Some("") => 1,
        Some(text) => text.parse::<u64>().unwrap_or_else(|_| {
            faults.push(RowFault::new(
                row.line,
                "count",
                text,
                "a whole number above 0",
            ));
            1
        }),
    };
    let cause = table.cell(row, "cause").filter(|cause| !cause.is_empty());
    let group = named.group.as_deref().map(|column| {
        let name = table.cell(row, column).unwrap_or_default();
        if name.is_empty() {
            let rule = "the name of a group in every row";
            faults.push(RowFault::new(row.line, column, name, rule));
        }
        name.to_owned()
    });
    let covariates = named
        .covariates
        .iter()
        .map(|column| {
            let text = table.cell(row, column).unwrap_or_default();
            finite(text).unwrap_or_else(|| {
                faults.push(RowFault::new(row.line, column, text, A_NUMBER));
                0.0
            })
        })
        .collect();
    (faults.len() == before).then_some(LifeRow {
        observation: Observation {
            entry,
            lower,
            upper,
            cause: cause.map(str::to_owned),
            count,
        },
        group,
        covariates,
    })
}

/// A rule of the lives, in the line of the file.
fn placed(fault: LifeFault, lines: &[u64]) -> RowFault {
    let line = lines.get(fault.row).copied().unwrap_or(0);
    RowFault::new(line, fault.field, fault.value, fault.rule)
}

#[cfg(test)]
mod tests {
    use super::*;
    use wearbook_analysis::sample::Sample;

    fn read_lives(text: &str) -> Result<Sample, Vec<RowFault>> {
        let lives = super::read_lives(text.as_bytes(), &NamedColumns::default())?;
        Ok(Sample::new(lives.rows().iter().map(|row| row.observation.clone())).unwrap())
    }

    fn regions() -> NamedColumns {
        NamedColumns {
            group: Some("region".to_owned()),
            covariates: vec!["rpm".to_owned(), "load".to_owned()],
        }
    }

    #[test]
    fn groups_and_covariates_come_from_the_columns_that_were_named() {
        let text = "load,lower,region,rpm\n0.5,10,north,1900\n0.25,12,south,2100\n";
        let lives = super::read_lives(text.as_bytes(), &regions()).unwrap();
        let groups: Vec<_> = lives
            .rows()
            .iter()
            .map(|row| row.group.as_deref())
            .collect();
        assert_eq!(groups, [Some("north"), Some("south")]);
        assert_eq!(lives.rows()[1].covariates, [2100.0, 0.25]);
        assert_eq!(lives.covariates(), ["rpm", "load"]);
    }

    #[test]
    fn an_empty_group_and_a_covariate_that_is_no_number_are_faults() {
        let text = "lower,region,rpm,load\n10,,1900,\n12,south,fast,1\n14,south,inf,1\n";
        let faults = super::read_lives(text.as_bytes(), &regions()).unwrap_err();
        let places: Vec<_> = faults
            .iter()
            .map(|one| (one.line, one.column.as_str()))
            .collect();
        assert_eq!(places, [(2, "region"), (2, "load"), (3, "rpm"), (4, "rpm")]);
    }

    #[test]
    fn a_column_that_was_named_must_be_there_and_another_must_not() {
        let faults = super::read_lives("lower,rpm,hue\n1,2,3\n".as_bytes(), &regions());
        let columns: Vec<_> = faults
            .unwrap_err()
            .into_iter()
            .map(|fault| fault.column)
            .collect();
        assert_eq!(columns, ["hue", "load", "region"]);
    }

    #[test]
    fn every_kind_of_life_is_read() {
        let text = "entry,lower,upper,cause,count\n0,5,5,wear,2\n,7,,,\n1,3,inf,,4\n0,0,9,,\n2,4,6,split,1\n";
        let sample = read_lives(text).unwrap();
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
        let sample = read_lives("lower\n1\n2\n3\n").unwrap();
        assert_eq!((sample.lives(), sample.failures()), (3, 3));
    }

    #[test]
    fn a_byte_order_mark_and_windows_line_ends_do_no_harm() {
        let sample = read_lives("\u{feff}lower,upper\r\n1,1\r\n2,\r\n").unwrap();
        assert_eq!((sample.lives(), sample.failures()), (2, 1));
    }

    #[test]
    fn every_fault_is_reported_at_once_with_its_true_line() {
        let text = "lower,upper,cause,count\n1,1,\"two\nlines\",1\nx,2,,1\n3,2,,1\n4,4,,0\n5,nan,,1\n6,6\n";
        let faults = read_lives(text).unwrap_err();
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
        let faults = read_lives("lower;upper\n1;2\n").unwrap_err();
        assert_eq!(faults[0].column, "lower;upper");
        assert!(read_lives("cause\nx\n").is_err());
        assert!(read_lives("lower,lower\n1,2\n").is_err());
    }
}
