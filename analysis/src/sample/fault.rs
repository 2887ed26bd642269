//! What is wrong with rows that make no sample.

use std::fmt;

use serde::Serialize;

use crate::observation::Observation;

/// One value that breaks a rule of [`Observation`].
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ObservationFault {
    /// Position of the row as given, from 0.
    pub row: usize,
    /// Name of the field at fault.
    pub field: &'static str,
    /// The rule it breaks.
    pub rule: &'static str,
    /// The value as given, as text.
    pub value: String,
}

/// Every fault found in the rows given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub struct SampleError {
    /// At least one fault, in the order of the rows.
    pub faults: Vec<ObservationFault>,
}

impl fmt::Display for SampleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} faults in the observations", self.faults.len())?;
        match self.faults.first() {
            Some(first) => write!(
                f,
                "; first: row {}, {} {} but is {}",
                first.row, first.field, first.rule, first.value
            ),
            None => Ok(()),
        }
    }
}

/// Usages that are told apart from 0 and from never. Inside, no sum or square of usages leaves the range of numbers;
/// outside, the unit is wrong.
const USAGES: std::ops::RangeInclusive<f64> = 1e-100..=1e100;
/// What a usage that breaks [`USAGES`] is told.
pub(crate) const USAGE_RULE: &str = "must be 0 or lie between 1e-100 and 1e100";

/// Whether a finite usage above 0 lies where nothing is told apart.
pub(crate) fn is_out_of_reach(usage: f64) -> bool {
    usage > 0.0 && usage.is_finite() && !USAGES.contains(&usage)
}

/// A number as text, with a power of ten where its plain text would be long.
pub(crate) fn shown(value: f64) -> String {
    let size = value.abs();
    if value.is_finite() && size > 0.0 && !(1e-5..1e15).contains(&size) {
        format!("{value:e}")
    } else {
        value.to_string()
    }
}

/// The numbers of one row.
#[derive(Clone, Copy)]
pub(super) struct Checked {
    entry: f64,
    lower: f64,
    upper: f64,
    count: u64,
}

impl From<&Observation> for Checked {
    fn from(row: &Observation) -> Self {
        Self {
            entry: row.entry,
            lower: row.lower,
            upper: row.upper,
            count: row.count,
        }
    }
}

impl Checked {
    /// One life seen from new.
    pub(super) fn life(age: f64, failed: bool) -> Self {
        Self {
            entry: 0.0,
            lower: age,
            upper: if failed { age } else { f64::INFINITY },
            count: 1,
        }
    }
}

/// Adds every fault of one row.
pub(super) fn check(row: usize, checked: Checked, faults: &mut Vec<ObservationFault>) {
    let Checked {
        entry,
        lower,
        upper,
        count,
    } = checked;
    if !(entry.is_finite() && entry >= 0.0) {
        faults.push(fault(
            row,
            "entry",
            "must be finite and at least 0",
            shown(entry),
        ));
        return;
    }
    if !(lower.is_finite() && lower >= entry) {
        faults.push(fault(
            row,
            "lower",
            "must be finite and at least entry",
            shown(lower),
        ));
        return;
    }
    for (field, usage) in [("entry", entry), ("lower", lower), ("upper", upper)] {
        if is_out_of_reach(usage) {
            faults.push(fault(row, field, USAGE_RULE, shown(usage)));
        }
    }
    if upper.is_nan() || upper < lower {
        faults.push(fault(
            row,
            "upper",
            "must be at least lower, or infinite",
            shown(upper),
        ));
    } else if entry > 0.0 && upper <= entry {
        faults.push(fault(
            row,
            "upper",
            "must lie above entry for a failure",
            shown(upper),
        ));
    }
    if count == 0 {
        faults.push(fault(row, "count", "must be at least 1", count));
    }
}

/// One fault, with its value as text.
pub(super) fn fault(
    row: usize,
    field: &'static str,
    rule: &'static str,
    value: impl fmt::Display,
) -> ObservationFault {
    ObservationFault {
        row,
        field,
        rule,
        value: value.to_string(),
    }
}
