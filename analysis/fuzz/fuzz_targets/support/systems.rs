//! Systems with recurring events from bytes; they need not be valid.

use arbitrary::{Result, Unstructured};
use wearbook_analysis::recurrent::{System, Truncation};

/// A number of any bits, or one of a few that meet each other.
pub fn number(input: &mut Unstructured<'_>) -> Result<f64> {
    if input.ratio(1, 4)? {
        return input.arbitrary();
    }
    Ok(*input.choose(&[0.0, 1e-300, 1e-6, 0.5, 1.0, 2.0, 3.0, 100.0, 1e9, 1e300])?)
}

pub fn systems(input: &mut Unstructured<'_>) -> Result<Vec<System>> {
    let mut systems = Vec::new();
    for _ in 0..input.int_in_range(0..=6)? {
        let mut events = Vec::new();
        for _ in 0..input.int_in_range(0..=6)? {
            events.push(number(input)?);
        }
        systems.push(System {
            start: number(input)?,
            end: number(input)?,
            truncation: if input.arbitrary()? {
                Truncation::Time
            } else {
                Truncation::Failure
            },
            events,
            count: *input.choose(&[0, 1, 1, 1, 2, 1_000_000_000, u64::MAX])?,
        });
    }
    Ok(systems)
}
