//! For how long every life would have been watched: what is left to chance in how a sample came about.

use crate::observation::{Ending, Life};
use crate::sample::Sample;

/// Lives that would have been watched over the same stretch of centred log usage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Window {
    /// Lives, whole or in part.
    pub lives: f64,
    /// Entry; minus infinity for lives seen from new.
    pub from: f64,
    /// End; infinite for lives watched until they fail.
    pub to: f64,
}

/// Centred log usage of the first look, where lives seen from new were found failed at it; none where some failure
/// before it is known better. Of failures before it nothing is known but their number.
pub(crate) fn first_look(sample: &Sample, centre: f64) -> Option<f64> {
    let early = |row: &Life<'_>| row.ending() == Ending::LeftCensored && row.entry <= 0.0;
    let look = sample
        .observations()
        .filter(early)
        .map(|row| row.upper)
        .min_by(f64::total_cmp)?;
    let known_better = sample
        .observations()
        .any(|row| !early(&row) && row.upper <= look);
    (!known_better).then(|| look.ln() - centre)
}

/// One row, by its end.
#[derive(Clone, Copy, Debug)]
struct End {
    at: f64,
    survived: bool,
    exact: bool,
    /// Centred log usage of entry.
    from: f64,
    count: f64,
}

/// Watching of failures that later lives carry on, by groups of entry.
#[derive(Clone, Copy, Debug, Default)]
struct Carried {
    /// Failures for each later life.
    lives: f64,
    /// The sum of their entries, for each later life.
    entries: f64,
}

/// The windows of a sample about a centre, lumped to a few.
///
/// A survivor shows its window. That of a failure begins at its own entry and is not seen past the failure; its end
/// is drawn in equal parts from the lives that end later (Efron 1967, redistribution to the right), and where no
/// survivor ended later it would have been watched until it failed. Where all lives are seen from new and every
/// survivor was withdrawn at the usage of a failure, as in a test that stops at a failure, the number of failures was
/// not left to chance, and every life counts as watched until it fails.
pub(crate) fn windows(sample: &Sample, centre: f64) -> Vec<Window> {
    let mut ends: Vec<End> = sample
        .observations()
        .map(|row| {
            let survived = row.ending() == Ending::RightCensored;
            End {
                at: if survived { row.lower } else { row.upper },
                survived,
                exact: row.ending() == Ending::Exact,
                from: if row.entry > 0.0 {
                    row.entry.ln() - centre
                } else {
                    f64::NEG_INFINITY
                },
                count: row.count as f64,
            }
        })
        .filter(|end| end.at > 0.0)
        .collect();
    // Failures come before survivors at the same usage.
    ends.sort_by(|a, b| {
        a.at.total_cmp(&b.at)
            .then(a.survived.cmp(&b.survived))
            .then(a.exact.cmp(&b.exact))
            .then(a.from.total_cmp(&b.from))
    });
    let stopped = sample.delayed_entry() == 0 && stopped_at_failures(&ends);
    let last = ends.iter().rposition(|end| end.survived);
    let bounds = entry_bounds(&ends);
    let mut by_entry = vec![(Carried::default(), Vec::new()); bounds.len()];
    let mut left: f64 = ends.iter().map(|end| end.count).sum();
    for (place, end) in ends.iter().enumerate() {
        let open = stopped || last.is_none_or(|last| place > last);
        let own = bounds.partition_point(|bound| *bound < end.from);
        let to = if open {
            f64::INFINITY
        } else {
            end.at.ln() - centre
        };
        for (group, (carried, windows)) in by_entry.iter_mut().enumerate() {
            let owned = if group == own { end.count } else { 0.0 };
            let shared = end.count * carried.lives;
            if !(open || end.survived) {
                // A failure hands on its own watching, and what it carried.
                let behind = left - end.count;
                if owned + shared > 0.0 {
                    carried.entries += end.count * carried.entries / behind;
                    carried.lives += (owned + shared) / behind;
                }
                if owned > 0.0 {
                    carried.entries += owned * end.from / behind;
                }
                continue;
            }
            if owned > 0.0 {
                windows.push(Window {
                    lives: owned,
                    from: end.from,
                    to,
                });
            }
            if shared > 0.0 && !stopped {
                windows.push(Window {
                    lives: shared,
                    from: carried.entries / carried.lives,
                    to,
                });
            }
        }
        left -= end.count;
    }
    by_entry
        .into_iter()
        .flat_map(|(_, windows)| lumped(windows))
        .collect()
}

/// Whether every survivor was withdrawn at the usage of a failure. The ends are in order, failures first.
fn stopped_at_failures(ends: &[End]) -> bool {
    let mut failure = f64::NAN;
    for end in ends {
        if !end.survived {
            failure = if end.exact { end.at } else { f64::NAN };
        } else if failure.to_bits() != end.at.to_bits() {
            return false;
        }
    }
    true
}

/// Groups by entry, and by end within them: only the correction rests on them, and it is smooth in both.
const ENTRIES: f64 = 4.0;
const ENDS: f64 = 8.0;

/// The last entry of each of a few groups of about equally many lives, ascending.
fn entry_bounds(ends: &[End]) -> Vec<f64> {
    let mut entries: Vec<Window> = ends
        .iter()
        .map(|end| Window {
            lives: end.count,
            from: end.from,
            to: f64::INFINITY,
        })
        .collect();
    entries.sort_by(|a, b| a.from.total_cmp(&b.from));
    groups(&entries, ENTRIES, |window| window.from)
        .iter()
        .filter_map(|group| group.last())
        .map(|window| window.from)
        .collect()
}

/// Windows of like entry, lumped by their ends.
fn lumped(mut windows: Vec<Window>) -> Vec<Window> {
    windows.sort_by(|a, b| a.to.total_cmp(&b.to).then(a.from.total_cmp(&b.from)));
    groups(&windows, ENDS, |window| window.to)
        .iter()
        .map(|lump| {
            let lives: f64 = lump.iter().map(|window| window.lives).sum();
            let mean = |value: fn(&Window) -> f64| {
                let first = lump.first().map_or(0.0, value);
                if lump
                    .iter()
                    .all(|window| value(window).to_bits() == first.to_bits())
                {
                    return first;
                }
                lump.iter()
                    .map(|window| window.lives * value(window))
                    .sum::<f64>()
                    / lives
            };
            Window {
                lives,
                from: mean(|window| window.from),
                to: mean(|window| window.to),
            }
        })
        .collect()
}

/// Runs of about equally many lives; finite and infinite values are kept apart.
fn groups(windows: &[Window], most: f64, value: impl Fn(&Window) -> f64) -> Vec<Vec<Window>> {
    let total: f64 = windows.iter().map(|window| window.lives).sum();
    let mut groups: Vec<Vec<Window>> = Vec::new();
    let mut within = 0.0;
    for window in windows {
        let fits = groups
            .last()
            .and_then(|group| group.last())
            .is_some_and(|before| {
                let (here, there) = (value(window), value(before));
                let same = here.to_bits() == there.to_bits();
                same || (here.is_finite() && there.is_finite() && within < total / most)
            });
        if fits {
            within += window.lives;
            if let Some(group) = groups.last_mut() {
                group.push(*window);
            }
        } else {
            within = window.lives;
            groups.push(vec![*window]);
        }
    }
    groups
}
