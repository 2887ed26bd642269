//! The lives of a sample, column by column.
//!
//! Most samples are seen from new, one life a row, without causes: those columns are then absent, and a pass over a
//! million lives reads two numbers a life.

use crate::observation::Life;

/// Lives in canonical order. A column that would hold one value only is empty.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Columns {
    pub lower: Vec<f64>,
    pub upper: Vec<f64>,
    /// Empty when every life was seen from new.
    pub entry: Vec<f64>,
    /// Empty when every row stands for one life.
    pub count: Vec<u64>,
    /// Place in `names` plus one, 0 without a cause; empty when no life has one.
    pub cause: Vec<u32>,
    /// Causes in order of name, each used by some row.
    pub names: Vec<String>,
}

impl Columns {
    pub(crate) fn len(&self) -> usize {
        self.lower.len()
    }

    /// The name that a number of the cause column stands for.
    pub(crate) fn name(&self, cause: u32) -> Option<&str> {
        let place = usize::try_from(cause).ok()?.checked_sub(1)?;
        self.names.get(place).map(String::as_str)
    }

    pub(crate) fn life(&self, row: usize) -> Option<Life<'_>> {
        Some(Life {
            entry: self.entry.get(row).copied().unwrap_or(0.0),
            lower: *self.lower.get(row)?,
            upper: *self.upper.get(row)?,
            cause: self.cause.get(row).and_then(|cause| self.name(*cause)),
            count: self.count.get(row).copied().unwrap_or(1),
        })
    }

    pub(crate) fn lives(
        &self,
    ) -> impl ExactSizeIterator<Item = Life<'_>> + DoubleEndedIterator + Clone {
        (0..self.len()).map(|row| {
            self.life(row).unwrap_or(Life {
                entry: 0.0,
                lower: 0.0,
                upper: f64::INFINITY,
                cause: None,
                count: 0,
            })
        })
    }
}
