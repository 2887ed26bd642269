//! Columns of a sample whose lives were all seen from new and whose failures are all known exactly.

use super::column::Column;
use super::moments::moments;
use crate::sample::Sample;
use crate::special::vector::ln_all;

/// The centre, the failures and the running lives.
pub(super) fn columns(sample: &Sample) -> (f64, Column, Column) {
    let given = sample.columns();
    // Lives that left at usage zero were never watched; they come first.
    let first = given.lower.partition_point(|lower| *lower <= 0.0);
    let mut logs = given.lower.get(first..).unwrap_or_default().to_vec();
    ln_all(&mut logs);
    let upper = given.upper.get(first..).unwrap_or_default();
    let count: Vec<f64> = given
        .count
        .get(first..)
        .unwrap_or_default()
        .iter()
        .map(|count| *count as f64)
        .collect();
    let [_, centre, _] = moments(&logs, &count);
    // Both columns are written at every life and only one moves on: no branch to guess.
    let mut rooms = [vec![0.0; logs.len()], vec![0.0; logs.len()]];
    let mut weights = [vec![0.0; count.len()], vec![0.0; count.len()]];
    let mut lengths = [0, 0];
    for (row, (y, upper)) in logs.iter().zip(upper).enumerate() {
        let runs = usize::from(*upper == f64::INFINITY);
        for (rooms, value) in [
            (&mut rooms, Some(*y - centre)),
            (&mut weights, count.get(row).copied()),
        ] {
            for (room, length) in rooms.iter_mut().zip(lengths) {
                if let (Some(cell), Some(value)) = (room.get_mut(length), value) {
                    *cell = value;
                }
            }
        }
        let [failed, running] = &mut lengths;
        *failed += 1 - runs;
        *running += runs;
    }
    let [failed, running] = rooms;
    let [failed_weight, running_weight] = weights;
    let [failures, survivors] = lengths;
    (
        centre,
        Column::of(failed, failed_weight, failures),
        Column::of(running, running_weight, survivors),
    )
}
