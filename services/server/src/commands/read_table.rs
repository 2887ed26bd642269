//! A CSV file as rows with known columns. Every bad cell is found before any is reported.

use std::collections::HashMap;
use std::io::Read;

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

impl RowFault {
    /// A cell at fault.
    pub fn new(
        line: u64,
        column: impl Into<String>,
        value: impl Into<String>,
        rule: impl Into<String>,
    ) -> Self {
        Self {
            line,
            column: column.into(),
            value: value.into(),
            rule: rule.into(),
        }
    }
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

/// A table whose columns are all known, with the rows that have as many cells as the header.
#[derive(Debug)]
pub struct Table {
    places: HashMap<String, usize>,
    /// The rows.
    pub rows: Vec<Row>,
    /// Rows that could not be taken.
    pub faults: Vec<RowFault>,
}

/// One row with its physical line.
#[derive(Debug)]
pub struct Row {
    /// Where it begins in the file.
    pub line: u64,
    cells: csv::StringRecord,
}

impl Table {
    /// Reads a table whose header has names out of `usual` and all of `asked`, each once.
    ///
    /// # Errors
    /// When it cannot be read or its header is at fault.
    pub fn read(
        mut source: impl Read,
        usual: &[&str],
        asked: &[&str],
    ) -> Result<Self, Vec<RowFault>> {
        let mut text = Vec::new();
        source
            .read_to_end(&mut text)
            .map_err(|error| vec![RowFault::new(1, "", "", format!("cannot be read: {error}"))])?;
        let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&text);
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text);
        let header = reader
            .headers()
            .map_err(|error| vec![RowFault::new(1, "", "", error.to_string())])?
            .clone();
        let mut table = Self {
            places: places_of(&header, usual, asked)?,
            rows: Vec::new(),
            faults: Vec::new(),
        };
        for record in reader.records() {
            match record {
                Ok(cells) => table.take(cells, header.len()),
                Err(error) => {
                    let line = error.position().map_or(0, csv::Position::line);
                    table
                        .faults
                        .push(RowFault::new(line, "", "", error.to_string()));
                }
            }
        }
        Ok(table)
    }

    fn take(&mut self, cells: csv::StringRecord, wanted: usize) {
        let line = cells.position().map_or(0, csv::Position::line);
        if cells.len() == wanted {
            self.rows.push(Row { line, cells });
        } else {
            let found = format!("{} cells", cells.len());
            let rule = format!("as many cells as the header, {wanted}");
            self.faults.push(RowFault::new(line, "", found, rule));
        }
    }

    /// Whether the header names a column.
    pub fn has(&self, column: &str) -> bool {
        self.places.contains_key(column)
    }

    /// The text of a cell; none where the table has no such column.
    pub fn cell<'a>(&self, row: &'a Row, column: &str) -> Option<&'a str> {
        row.cells.get(*self.places.get(column)?)
    }

    /// A finite number; `absent` where the column is missing or the cell is empty. A fault gives `absent` too.
    pub fn number(&self, row: &Row, column: &str, absent: f64, faults: &mut Vec<RowFault>) -> f64 {
        match self.cell(row, column) {
            None | Some("") => absent,
            Some(text) => finite(text).unwrap_or_else(|| {
                faults.push(RowFault::new(row.line, column, text, A_NUMBER));
                absent
            }),
        }
    }
}

/// The rule for a cell that holds a number.
pub const A_NUMBER: &str = "a finite number with a decimal point";

/// Reads a finite number.
pub fn finite(text: &str) -> Option<f64> {
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

fn places_of(
    header: &csv::StringRecord,
    usual: &[&str],
    asked: &[&str],
) -> Result<HashMap<String, usize>, Vec<RowFault>> {
    let mut places = HashMap::new();
    let mut faults = Vec::new();
    for (place, name) in header.iter().enumerate() {
        if !usual.contains(&name) && !asked.contains(&name) {
            let rule = format!(
                "one of the columns {}, or one that an option names; columns are separated by commas",
                usual.join(", ")
            );
            faults.push(RowFault::new(1, name, name, rule));
        } else if places.insert(name.to_owned(), place).is_some() {
            faults.push(RowFault::new(1, name, name, "each column once"));
        }
    }
    for name in asked {
        if !places.contains_key(*name) {
            let rule = "a column that an option names, but the header does not";
            faults.push(RowFault::new(1, *name, "", rule));
        }
    }
    if faults.is_empty() {
        Ok(places)
    } else {
        Err(faults)
    }
}
