//! Failures by cause at each usage.

use crate::observation::Ending;
use crate::sample::Sample;

/// Failures of one cause at one usage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct CauseFailures {
    pub time: f64,
    /// Place of the cause in [`Sample::causes`].
    pub cause: usize,
    pub failed: u64,
}

/// The causes of exact failures, unnamed first, with the failures of each in order of usage, then of cause.
pub(super) fn failures_by_cause(sample: &Sample) -> (Vec<Option<String>>, Vec<CauseFailures>) {
    let causes: Vec<Option<String>> = sample
        .causes()
        .into_iter()
        .map(|(cause, _)| cause)
        .collect();
    let mut failures: Vec<CauseFailures> = Vec::new();
    for row in sample.observations() {
        if row.ending() != Ending::Exact {
            continue;
        }
        let named = row.cause;
        if let Ok(cause) = causes.binary_search_by(|known| known.as_deref().cmp(&named)) {
            failures.push(CauseFailures {
                time: row.lower,
                cause,
                failed: row.count,
            });
        }
    }
    failures.sort_unstable_by(|a, b| a.time.total_cmp(&b.time).then(a.cause.cmp(&b.cause)));
    failures.dedup_by(|next, kept| {
        let same = next.time <= kept.time && next.cause == kept.cause;
        if same {
            kept.failed += next.failed;
        }
        same
    });
    (causes, failures)
}
