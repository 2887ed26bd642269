//! Failures found at checks, put at one end of what is known of their age. Some methods need exact ages.

use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

/// The same lives with every failure found at a check counted at its last clean look, the careful side: less usage
/// makes limits shorter.
pub(super) fn at_last_clean_look(sample: &Sample) -> Option<Sample> {
    placed(sample, |row| {
        let least = row.entry + 1e-6 * (row.upper - row.entry);
        row.lower.max(least)
    })
}

/// The same lives with every failure found at a check counted when it was found.
pub(super) fn when_found(sample: &Sample) -> Option<Sample> {
    placed(sample, |row| row.upper)
}

fn placed(sample: &Sample, age: impl Fn(&Observation) -> f64) -> Option<Sample> {
    let rows = sample.observations().map(Observation::from).map(|mut row| {
        if row.upper.is_finite() && row.lower < row.upper {
            let at = age(&row);
            (row.lower, row.upper) = (at, at);
        }
        row
    });
    Sample::new(rows).ok()
}
