//! Recurring events from CSV: one row an event, and one row where the watching of a unit ended.

use super::read_table::{A_NUMBER, Row, RowFault, Table, finite};
use std::collections::BTreeMap;
use std::io::Read;
use wearbook_analysis::recurrent::{Histories, HistoryError, System};

/// What was seen of one unit that is repaired and goes on.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitHistory {
    /// Its name in the file.
    pub unit: String,
    /// Ages at its events, in order.
    pub events: Vec<f64>,
    /// Age at which watching ended; none if it ended with the last event.
    pub watched_to: Option<f64>,
}

/// What a row says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Event,
    EndOfWatching,
}

/// One row that can be read, with the line it stands in.
struct Entry<'a> {
    line: u64,
    unit: &'a str,
    age: f64,
    kind: Kind,
}

/// The columns of a file of events, all of them needed.
const COLUMNS: [&str; 3] = ["unit", "age", "event"];

/// Reads the columns `unit`, `age` and `event`: 1 for an event, 0 for the end of watching. Units come in order of name.
///
/// # Errors
/// Every fault of every row and unit.
pub fn read_events(source: impl Read) -> Result<Vec<UnitHistory>, Vec<RowFault>> {
    let mut table = Table::read(source, &COLUMNS, &[])?;
    let missing = missing(&table);
    if !missing.is_empty() {
        return Err(missing);
    }
    let mut faults = std::mem::take(&mut table.faults);
    let entries: Vec<Entry<'_>> = table
        .rows
        .iter()
        .filter_map(|row| entry_of(&table, row, &mut faults))
        .collect();
    let units = units_of(&entries, &mut faults);
    if faults.is_empty() {
        Ok(units)
    } else {
        faults.sort_by_key(|fault| fault.line);
        Err(faults)
    }
}

/// The units as systems watched from new: to the end of watching, or until the last event where there is no end.
///
/// # Errors
/// Where a unit breaks a rule of the engine.
pub fn histories(units: &[UnitHistory]) -> Result<Histories, HistoryError> {
    Histories::new(units.iter().map(|unit| match unit.watched_to {
        Some(end) => System::watched_to(end, unit.events.clone()),
        None => System::until_last_event(unit.events.clone()),
    }))
}

/// The columns that are needed and not there.
fn missing(table: &Table) -> Vec<RowFault> {
    COLUMNS
        .into_iter()
        .filter(|column| !table.has(column))
        .map(|column| RowFault::new(1, column, "", "this column is needed"))
        .collect()
}

fn entry_of<'a>(table: &Table, row: &'a Row, faults: &mut Vec<RowFault>) -> Option<Entry<'a>> {
    let line = row.line;
    let unit = table.cell(row, "unit").unwrap_or_default();
    if unit.is_empty() {
        faults.push(RowFault::new(line, "unit", unit, "the name of a unit"));
    }
    let text = table.cell(row, "age").unwrap_or_default();
    let age = finite(text);
    match age {
        None => faults.push(RowFault::new(line, "age", text, A_NUMBER)),
        Some(age) if age <= 0.0 => {
            faults.push(RowFault::new(line, "age", text, "an age above 0"));
        }
        Some(_) => {}
    }
    let text = table.cell(row, "event").unwrap_or_default();
    let kind = match text {
        "1" => Some(Kind::Event),
        "0" => Some(Kind::EndOfWatching),
        _ => {
            let rule = "1 for an event or 0 for the end of watching";
            faults.push(RowFault::new(line, "event", text, rule));
            None
        }
    };
    Some(Entry {
        line,
        unit: Some(unit).filter(|unit| !unit.is_empty())?,
        age: age.filter(|age| *age > 0.0)?,
        kind: kind?,
    })
}

fn units_of(entries: &[Entry<'_>], faults: &mut Vec<RowFault>) -> Vec<UnitHistory> {
    let mut units: BTreeMap<&str, Vec<&Entry<'_>>> = BTreeMap::new();
    for entry in entries {
        units.entry(entry.unit).or_default().push(entry);
    }
    units
        .into_iter()
        .map(|(unit, entries)| unit_of(unit, &entries, faults))
        .collect()
}

fn unit_of(unit: &str, entries: &[&Entry<'_>], faults: &mut Vec<RowFault>) -> UnitHistory {
    let mut watched_to: Option<f64> = None;
    for end in entries.iter().filter(|one| one.kind == Kind::EndOfWatching) {
        if watched_to.is_some() {
            let rule = "one end of watching for each unit";
            faults.push(RowFault::new(end.line, "event", "0", rule));
        } else {
            watched_to = Some(end.age);
        }
    }
    let mut events = Vec::new();
    for event in entries.iter().filter(|one| one.kind == Kind::Event) {
        if watched_to.is_some_and(|end| event.age > end) {
            let rule = format!("an event no later than the end of watching of unit {unit}");
            faults.push(RowFault::new(
                event.line,
                "age",
                event.age.to_string(),
                rule,
            ));
        }
        events.push(event.age);
    }
    events.sort_by(f64::total_cmp);
    UnitHistory {
        unit: unit.to_owned(),
        events,
        watched_to,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_come_in_order_with_their_events_in_order() {
        let text = "unit,age,event\nb,9,1\na,5,1\na,20,0\na,3,1\nb,12,1\nc,30,0\n";
        let units = read_events(text.as_bytes()).unwrap();
        let found: Vec<_> = units
            .iter()
            .map(|one| (one.unit.as_str(), one.events.as_slice(), one.watched_to))
            .collect();
        assert_eq!(
            found,
            [
                ("a", [3.0, 5.0].as_slice(), Some(20.0)),
                ("b", [9.0, 12.0].as_slice(), None),
                ("c", [].as_slice(), Some(30.0))
            ]
        );
    }

    #[test]
    fn every_fault_is_found_at_once() {
        let text = "unit,age,event\na,5,1\na,4,0\na,9,0\n,1,1\nb,x,1\nb,-1,1\nb,2,2\nb,3\n";
        let faults = read_events(text.as_bytes()).unwrap_err();
        let places: Vec<_> = faults
            .iter()
            .map(|one| (one.line, one.column.as_str()))
            .collect();
        assert_eq!(
            places,
            [
                (2, "age"),
                (4, "event"),
                (5, "unit"),
                (6, "age"),
                (7, "age"),
                (8, "event"),
                (9, "")
            ]
        );
    }

    #[test]
    fn the_header_needs_unit_age_and_event_and_nothing_else() {
        let columns = |text: &str| -> Vec<String> {
            let faults = read_events(text.as_bytes()).unwrap_err();
            faults.into_iter().map(|one| one.column).collect()
        };
        assert_eq!(columns("event\n1\n"), ["unit", "age"]);
        assert_eq!(columns("unit,time,status\na,1,1\n"), ["time", "status"]);
        assert_eq!(columns("unit,age\na,1\n"), ["event"]);
        assert_eq!(columns("unit,age,event,status\na,1,1,1\n"), ["status"]);
        assert_eq!(columns("unit,age,event,cost\na,1,1,1\n"), ["cost"]);
    }
}
