//! Lays the stays of one component end to end on one scale, and refuses histories that contradict themselves.

use super::exclusion::{ExclusionReason, HistoryEvent};
use crate::history::{AgeWhenFitted, ComponentHistory, FailureEvent, Fitting};
use crate::units::{Usage, WearScale};
use crate::vocabulary::Discovery;

/// One stay with the component's age at its two ends, in the unit of the scale.
pub(super) struct Stay<'a> {
    pub(super) fitting: &'a Fitting,
    pub(super) age_at_start: f64,
    pub(super) age_at_end: f64,
    usage_at_start: f64,
}

impl Stay<'_> {
    /// Age of the component when the airframe had done `usage`.
    pub(super) fn age_at(&self, usage: f64) -> f64 {
        self.age_at_start + (usage - self.usage_at_start)
    }

    /// Whether an age lies beyond the end of the stay by more than the last digits of a sum.
    pub(super) fn is_over_at(&self, age: f64) -> bool {
        age - self.age_at_end > 1e-9 * (1.0 + self.age_at_end.abs())
    }

    /// Age at an earlier look, `None` if the look lies before this stay.
    pub(super) fn age_at_look(&self, usage: f64) -> Option<f64> {
        (usage >= self.usage_at_start).then(|| self.age_at(usage))
    }
}

/// Stays through which the component was watched without a gap.
pub(super) struct Watch<'a> {
    /// Age at which the watch began.
    pub(super) entry: f64,
    pub(super) stays: Vec<Stay<'a>>,
    /// What was decided while laying out, one sentence each.
    pub(super) remarks: Vec<String>,
}

/// Fittings by date; a tie is settled by identifier, so that the order of rows never matters.
pub(super) fn in_order(history: &ComponentHistory) -> Result<Vec<&Fitting>, ExclusionReason> {
    let mut fittings: Vec<&Fitting> = history.fittings.iter().collect();
    fittings.sort_by_key(|fitting| (fitting.fitted_at, fitting.installation));
    for fitting in &fittings {
        if let Some(end) = &fitting.ended
            && end.at.date_naive() < fitting.fitted_at.date_naive()
        {
            return Err(ExclusionReason::RemovedBeforeFitting {
                fitting: HistoryEvent::Fitted(fitting.installation),
                removal: HistoryEvent::Removed(end.removal),
            });
        }
    }
    for (earlier, later) in fittings.iter().zip(fittings.iter().skip(1)) {
        let has_ended = earlier
            .ended
            .as_ref()
            .is_some_and(|end| end.at.date_naive() <= later.fitted_at.date_naive());
        if !has_ended {
            return Err(ExclusionReason::OverlappingFittings {
                earlier: HistoryEvent::Fitted(earlier.installation),
                later: HistoryEvent::Fitted(later.installation),
            });
        }
    }
    history
        .failures
        .iter()
        .try_for_each(|report| check_dates(report, &fittings))?;
    Ok(fittings)
}

/// Days are compared, not hours: a workshop writes down the day. A component may be found failed on the bench after
/// it came off, but it cannot fail in flight then.
fn check_dates(report: &FailureEvent, fittings: &[&Fitting]) -> Result<(), ExclusionReason> {
    let this = HistoryEvent::Reported(report.report);
    let Some(fitting) = fittings
        .iter()
        .find(|f| f.installation == report.installation)
    else {
        return Err(ExclusionReason::ReportElsewhere {
            report: this,
            fitting: HistoryEvent::Fitted(report.installation),
        });
    };
    if report.at.date_naive() < fitting.fitted_at.date_naive() {
        return Err(ExclusionReason::FailedBeforeFitting {
            fitting: HistoryEvent::Fitted(fitting.installation),
            report: this,
        });
    }
    match &fitting.ended {
        Some(end)
            if report.discovery == Discovery::InFlight
                && report.at.date_naive() > end.at.date_naive() =>
        {
            Err(ExclusionReason::FailedAfterRemoval {
                removal: HistoryEvent::Removed(end.removal),
                report: this,
            })
        }
        _ => Ok(()),
    }
}

/// Gives every stay its ages. A stay whose age is on record anew, above what we saw, opens a new watch; one whose
/// age is unknown closes the last.
pub(super) fn lay_out<'a>(
    fittings: &[&'a Fitting],
    reports: &[FailureEvent],
    scale: WearScale,
) -> Result<Vec<Watch<'a>>, ExclusionReason> {
    let mut watches: Vec<Watch<'a>> = Vec::new();
    for &fitting in fittings {
        let this = HistoryEvent::Fitted(fitting.installation);
        let before = watches.last().and_then(|watch| watch.stays.last());
        let before_age = before.map(|stay| stay.age_at_end);
        let before_event = before.map(|stay| HistoryEvent::Fitted(stay.fitting.installation));
        check_same_airframe(before.map(|stay| stay.fitting), fitting, scale)?;
        let age = match (fitting.age_when_fitted, before_age, before_event) {
            (AgeWhenFitted::New, None, _) => 0.0,
            (AgeWhenFitted::New, Some(_), Some(earlier)) => {
                return Err(ExclusionReason::NewAgain {
                    earlier,
                    later: this,
                });
            }
            (AgeWhenFitted::Unknown, None, _) => {
                return Err(ExclusionReason::UnknownAge { event: this });
            }
            (AgeWhenFitted::Unknown, Some(_), _) => {
                if let Some(watch) = watches.last_mut() {
                    watch.remarks.push(format!(
                        "The age was lost at {this}; the component is watched only up to the removal before it."
                    ));
                }
                break;
            }
            (AgeWhenFitted::CarriedOn, Some(age), _) => age,
            (AgeWhenFitted::CarriedOn, None, _) | (AgeWhenFitted::New, Some(_), None) => {
                return Err(ExclusionReason::NothingToCarryOn { event: this });
            }
            (AgeWhenFitted::Known(usage), seen, earlier) => {
                let known = read(&usage, scale, this)?;
                if let (Some(seen), Some(earlier)) = (seen, earlier)
                    && known < seen
                {
                    return Err(ExclusionReason::UsageBackwards {
                        earlier,
                        later: this,
                        before: seen,
                        after: known,
                    });
                }
                known
            }
        };
        let stay = stay(fitting, reports, age, scale)?;
        let opens_new = before_age.is_none_or(|seen| age > seen);
        match watches.last_mut() {
            Some(watch) if !opens_new => watch.stays.push(stay),
            last => {
                let mut remarks = Vec::new();
                if last.is_some() {
                    remarks.push(format!(
                        "It was used elsewhere before {this}; the component is watched from its recorded age there on."
                    ));
                }
                watches.push(Watch {
                    entry: age,
                    stays: vec![stay],
                    remarks,
                });
            }
        }
    }
    if watches.is_empty() {
        Err(ExclusionReason::NeverFitted)
    } else {
        Ok(watches)
    }
}

fn check_same_airframe(
    before: Option<&Fitting>,
    fitting: &Fitting,
    scale: WearScale,
) -> Result<(), ExclusionReason> {
    let Some((before, end)) = before.and_then(|b| b.ended.as_ref().map(|end| (b, end))) else {
        return Ok(());
    };
    let pair = end
        .airframe_usage
        .on(scale)
        .zip(fitting.airframe_usage_when_fitted.on(scale));
    match pair {
        Some((then, now)) if before.airframe == fitting.airframe && now < then => {
            Err(ExclusionReason::UsageBackwards {
                earlier: HistoryEvent::Removed(end.removal),
                later: HistoryEvent::Fitted(fitting.installation),
                before: then,
                after: now,
            })
        }
        _ => Ok(()),
    }
}

fn stay<'a>(
    fitting: &'a Fitting,
    reports: &[FailureEvent],
    age_at_start: f64,
    scale: WearScale,
) -> Result<Stay<'a>, ExclusionReason> {
    let start_event = HistoryEvent::Fitted(fitting.installation);
    let start = read(&fitting.airframe_usage_when_fitted, scale, start_event)?;
    let (end_usage, end_event) = match &fitting.ended {
        Some(end) => (end.airframe_usage, HistoryEvent::Removed(end.removal)),
        None => (
            fitting.airframe_usage_now,
            HistoryEvent::LatestReading(fitting.installation),
        ),
    };
    let mut end = read(&end_usage, scale, end_event)?;
    if end < start {
        return Err(ExclusionReason::UsageBackwards {
            earlier: start_event,
            later: end_event,
            before: start,
            after: end,
        });
    }
    if fitting.ended.is_none() {
        // A report is a reading too: a part still fitted has at least the usage of its latest report.
        end = reports
            .iter()
            .filter(|report| report.installation == fitting.installation)
            .filter_map(|report| report.airframe_usage.on(scale))
            .fold(end, f64::max);
    }
    Ok(Stay {
        fitting,
        age_at_start,
        age_at_end: age_at_start + (end - start),
        usage_at_start: start,
    })
}

/// The usage on the scale, or the exclusion that names where it is missing.
pub(super) fn read(
    usage: &Usage,
    scale: WearScale,
    event: HistoryEvent,
) -> Result<f64, ExclusionReason> {
    usage
        .on(scale)
        .ok_or(ExclusionReason::UnknownUsage { event })
}
