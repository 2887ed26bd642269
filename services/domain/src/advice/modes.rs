//! Failures sorted by mode, because one fit over several modes hides the wear of each.

use std::borrow::Cow;
use std::collections::BTreeMap;

use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

use super::input::{AdviceInput, ModeCount};
use crate::keys::FailureModeKey;

/// Failures that are judged together, with the lives they are judged on.
pub(super) struct Group<'a> {
    /// Absent where several modes are taken together or no failure names its mode.
    pub(super) mode: Option<FailureModeKey>,
    /// All lives; failures of other modes are right-censored.
    pub(super) sample: Cow<'a, Sample>,
}

/// The failures of one population, sorted.
pub(super) struct Sorted<'a> {
    /// What is judged; never empty.
    pub(super) groups: Vec<Group<'a>>,
    /// Failures of each mode, those of unstated manner already counted to the leading one; most first.
    pub(super) counts: Vec<ModeCount>,
    /// Whether modes are judged each by itself.
    pub(super) apart: bool,
    /// The lives with the failures of all modes too rare to be judged, where modes are told apart.
    pub(super) rare: Option<Sample>,
    /// Failures of unstated manner that were counted to the leading mode.
    pub(super) not_stated: u64,
}

impl<'a> Sorted<'a> {
    /// Each mode with enough failures for a fit becomes a group of its own. With one mode, or with none that has
    /// enough, everything stays together.
    ///
    /// Failures of unstated manner go to the mode with the most failures, the first by name among equals, so that
    /// none is lost.
    pub(super) fn of(input: &AdviceInput<'a>) -> Self {
        let sample = input.sample;
        let mut counted: BTreeMap<FailureModeKey, u64> = BTreeMap::new();
        for (cause, failures) in sample.causes() {
            *counted.entry(mode_of(cause.as_deref())).or_default() += failures;
        }
        let not_stated = counted.remove(&FailureModeKey::not_stated()).unwrap_or(0);
        let mut counts: Vec<ModeCount> = counted
            .into_iter()
            .map(|(mode, failures)| ModeCount { mode, failures })
            .collect();
        counts.sort_by_key(|count| std::cmp::Reverse(count.failures));
        let Some(leader) = counts.first_mut() else {
            let mode = FailureModeKey::not_stated();
            let counts = (not_stated > 0).then_some(ModeCount {
                mode,
                failures: not_stated,
            });
            return Self::together(sample, None, counts.into_iter().collect(), 0);
        };
        leader.failures += not_stated;
        let leading = leader.mode.clone();
        let least = input.policy.fewest_failures_for_a_fit;
        let own = |mode: &FailureModeKey| {
            counts
                .iter()
                .any(|count| count.mode == *mode && count.failures >= least)
        };
        let relabelled = (counts.len() > 1 && own(&leading))
            .then(|| {
                relabel(sample, |cause| {
                    let mode = mode_of(cause);
                    let mode = if mode == FailureModeKey::not_stated() {
                        leading.clone()
                    } else {
                        mode
                    };
                    own(&mode).then(|| mode.to_string())
                })
            })
            .flatten();
        let Some(relabelled) = relabelled else {
            let only = (counts.len() == 1).then_some(leading);
            return Self::together(sample, only, counts, not_stated);
        };
        let mut groups = Vec::new();
        let mut rare = None;
        for (cause, sample) in relabelled.by_cause() {
            match cause {
                Some(cause) => groups.push(Group {
                    mode: Some(mode_of(Some(&cause))),
                    sample: Cow::Owned(sample),
                }),
                None => rare = Some(sample),
            }
        }
        Self {
            groups,
            counts,
            apart: true,
            rare,
            not_stated,
        }
    }

    fn together(
        sample: &'a Sample,
        mode: Option<FailureModeKey>,
        counts: Vec<ModeCount>,
        not_stated: u64,
    ) -> Self {
        let sample = Cow::Borrowed(sample);
        Self {
            groups: vec![Group { mode, sample }],
            counts,
            apart: false,
            rare: None,
            not_stated,
        }
    }

    /// Whether several modes stand behind the failures and were not told apart.
    pub(super) fn mixed(&self, input: &AdviceInput<'_>) -> bool {
        let listed = input
            .modes
            .iter()
            .filter(|count| count.failures > 0 && count.mode != FailureModeKey::not_stated())
            .count();
        !self.apart && (self.counts.len() > 1 || listed > 1)
    }
}

/// The mode a cause names; one that names none counts as not stated.
fn mode_of(cause: Option<&str>) -> FailureModeKey {
    cause
        .and_then(|cause| FailureModeKey::new(cause).ok())
        .unwrap_or_else(FailureModeKey::not_stated)
}

fn relabel(sample: &Sample, name: impl Fn(Option<&str>) -> Option<String>) -> Option<Sample> {
    let rows = sample.observations().map(Observation::from).map(|mut row| {
        if row.upper.is_finite() {
            row.cause = name(row.cause.as_deref());
        }
        row
    });
    Sample::new(rows).ok()
}
