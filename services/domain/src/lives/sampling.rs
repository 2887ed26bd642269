use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::{Sample, SampleError};

use super::{Life, LifeEnd};

/// Hands lives of one scale to the statistics: the only door between the two.
///
/// The caller sees to it that all lives are on one scale and of one population. Failed lives carry their mode as
/// cause. A failure at age 0 is kept apart by the sample as dead on arrival.
///
/// # Errors
/// When a life breaks a rule of the sample, for instance an end before its entry; lives made by
/// [`derive`](super::derive) never do.
pub fn to_sample(lives: &[Life]) -> Result<Sample, SampleError> {
    Sample::new(lives.iter().map(observation))
}

fn observation(life: &Life) -> Observation {
    let watched = match &life.end {
        LifeEnd::Failed { at, .. } => Observation::exact(*at),
        LifeEnd::FailedBetween { after, by, .. } => Observation::interval(*after, *by),
        other => Observation::right_censored(other.last_sound()),
    };
    let watched = watched.entered_at(life.entry);
    match life.end.mode() {
        Some(mode) => watched.with_cause(mode.as_str()),
        None => watched,
    }
}
