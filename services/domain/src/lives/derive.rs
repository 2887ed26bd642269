//! From a history to a life, on the clock of lost function.

use super::exclusion::{Exclusion, ExclusionReason, HistoryEvent};
use super::stays::{Stay, Watch, in_order, lay_out, read};
use super::{Derivation, Life, LifeEnd, LifeSource};
use crate::history::{ComponentHistory, FailureEvent};
use crate::keys::FailureModeKey;
use crate::units::WearScale;
use crate::vocabulary::{Discovery, FailureRole, RemovalReason};

/// What a failure at the very start of the first flight counts as, so that it has an age above zero.
pub const HALF_A_FLIGHT: f64 = 0.5;

/// Derives the life of one component on one scale, on the clock of lost function.
///
/// The first primary loss of function ends a life. Everything else ends the watch: a part that left in good order
/// tells as much as one that failed. A defect found while the function was there ends the watch at that check,
/// unless the same component is later reported to have lost its function: a failure is never hidden by an earlier
/// finding. A removal after which the component is fitted again ends nothing, except failure, a found defect and
/// damage. A failure in flight on the scale of flights at no usage counts as half a flight; a part found failed
/// before any usage keeps the age 0 and is counted apart as dead on arrival.
///
/// The same history gives the same life whatever the order of its rows. Nothing panics: a history that contradicts
/// itself, or lacks an age or the scale, gives an exclusion that names the records.
#[must_use]
pub fn derive(history: &ComponentHistory, scale: WearScale) -> Derivation {
    life(history, scale)
        .map_err(|reason| Exclusion {
            component: history.component,
            scale,
            reason,
        })
        .into()
}

fn life(history: &ComponentHistory, scale: WearScale) -> Result<Life, ExclusionReason> {
    let fittings = in_order(history)?;
    let watches = lay_out(&fittings, &history.failures, scale)?;
    let last = watches.len().saturating_sub(1);
    for (index, watch) in watches.iter().enumerate() {
        let ending = ending(watch, &history.failures, scale)?;
        if index == last || ending.final_for_good {
            return Ok(Life {
                component: history.component,
                scale,
                entry: watch.entry,
                sources: sources(watch, &ending),
                end: ending.end,
                remarks: watch.remarks.iter().cloned().chain(ending.remark).collect(),
            });
        }
    }
    Err(ExclusionReason::NeverFitted)
}

struct Ending {
    end: LifeEnd,
    /// Position of the stay in which it came.
    stay: usize,
    report: Option<crate::ids::FailureReportId>,
    remark: Option<String>,
    /// Whether nothing that happened later can matter.
    final_for_good: bool,
}

/// A report with the component's age when it was made.
struct Aged<'a> {
    event: &'a FailureEvent,
    stay: usize,
    age: f64,
}

fn ending(
    watch: &Watch<'_>,
    reports: &[FailureEvent],
    scale: WearScale,
) -> Result<Ending, ExclusionReason> {
    let aged = aged_reports(watch, reports, scale)?;
    let is = |report: &&Aged<'_>, role, lost: bool| {
        report.event.role == role
            && (report.event.discovery != Discovery::DefectFoundAtCheck) == lost
    };
    let loss = aged.iter().find(|r| is(r, FailureRole::Primary, true));
    let defect = aged.iter().find(|r| is(r, FailureRole::Primary, false));
    let damage = aged.iter().find(|r| r.event.role == FailureRole::Secondary);
    let off = off(watch)?;
    let (stop_age, stop) = match damage {
        Some(report) if report.age <= off.end.last_age() => (report.age, damaged(report)),
        _ => (off.end.last_age(), off),
    };
    if let Some(report) = loss.filter(|report| report.age <= stop_age) {
        return failed(watch, report, scale);
    }
    if let Some(report) = defect.filter(|report| report.age <= stop_age) {
        return Ok(Ending {
            end: LifeEnd::Removed {
                at: report.age,
                reason: RemovalReason::DefectFound,
            },
            stay: report.stay,
            report: Some(report.event.report),
            remark: None,
            final_for_good: true,
        });
    }
    if let LifeEnd::FailedBetween { by, .. } = stop.end
        && watch.entry > 0.0
        && by <= watch.entry
    {
        let event = watch
            .stays
            .get(stop.stay)
            .and_then(|stay| stay.fitting.ended.as_ref())
            .map(|end| HistoryEvent::Removed(end.removal));
        return Err(match event {
            Some(event) => ExclusionReason::FailedAtEntry { event },
            None => ExclusionReason::NeverFitted,
        });
    }
    Ok(stop)
}

fn aged_reports<'a>(
    watch: &Watch<'_>,
    reports: &'a [FailureEvent],
    scale: WearScale,
) -> Result<Vec<Aged<'a>>, ExclusionReason> {
    let mut aged = Vec::new();
    for (index, stay) in watch.stays.iter().enumerate() {
        for event in reports
            .iter()
            .filter(|r| r.installation == stay.fitting.installation)
        {
            aged.push(Aged {
                event,
                stay: index,
                age: age_of(stay, event, scale)?,
            });
        }
    }
    aged.sort_by(|a, b| {
        a.age
            .total_cmp(&b.age)
            .then(a.event.at.cmp(&b.event.at))
            .then(a.event.report.cmp(&b.event.report))
    });
    Ok(aged)
}

fn age_of(stay: &Stay<'_>, event: &FailureEvent, scale: WearScale) -> Result<f64, ExclusionReason> {
    let report = HistoryEvent::Reported(event.report);
    let usage = read(&event.airframe_usage, scale, report)?;
    let Some(age) = stay.age_at_look(usage) else {
        return Err(ExclusionReason::FailedBeforeFitting {
            fitting: HistoryEvent::Fitted(stay.fitting.installation),
            report,
        });
    };
    match &stay.fitting.ended {
        Some(end) if stay.is_over_at(age) => Err(ExclusionReason::FailedAfterRemoval {
            removal: HistoryEvent::Removed(end.removal),
            report,
        }),
        _ => Ok(age.min(stay.age_at_end)),
    }
}

fn damaged(report: &Aged<'_>) -> Ending {
    Ending {
        end: LifeEnd::SecondaryDamage { at: report.age },
        stay: report.stay,
        report: Some(report.event.report),
        remark: None,
        final_for_good: true,
    }
}

fn failed(
    watch: &Watch<'_>,
    report: &Aged<'_>,
    scale: WearScale,
) -> Result<Ending, ExclusionReason> {
    let event = report.event;
    let mode = event.mode.clone();
    let mut remark = None;
    let end = if event.discovery == Discovery::InFlight {
        let mut at = report.age;
        if at <= watch.entry && scale == WearScale::Flights {
            at = watch.entry + HALF_A_FLIGHT;
            remark = Some(
                "It failed in its first flight with us; that counts as half a flight.".to_owned(),
            );
        }
        LifeEnd::Failed { at, mode }
    } else {
        let (after, said) = last_clean_look(watch, report, scale)?;
        remark = said;
        LifeEnd::FailedBetween {
            after,
            by: report.age,
            mode,
        }
    };
    if watch.entry > 0.0 && end.failed_by().is_some_and(|by| by <= watch.entry) {
        return Err(ExclusionReason::FailedAtEntry {
            event: HistoryEvent::Reported(event.report),
        });
    }
    Ok(Ending {
        end,
        stay: report.stay,
        report: Some(event.report),
        remark,
        final_for_good: true,
    })
}

/// The last age at which the component was known to be sound before it was found failed.
fn last_clean_look(
    watch: &Watch<'_>,
    report: &Aged<'_>,
    scale: WearScale,
) -> Result<(f64, Option<String>), ExclusionReason> {
    let Some(look) = &report.event.last_known_good else {
        return Ok((watch.entry, None));
    };
    let unused = |why: &str| {
        Ok((
            watch.entry,
            Some(format!("The last clean look {why} and is not used.")),
        ))
    };
    let (Some(usage), Some(stay)) = (look.on(scale), watch.stays.get(report.stay)) else {
        return unused("has no usage on this scale");
    };
    match stay.age_at_look(usage) {
        None => unused("lies before this stay"),
        Some(age) if age > report.age => Err(ExclusionReason::UsageBackwards {
            earlier: HistoryEvent::LastLookBefore(report.event.report),
            later: HistoryEvent::Reported(report.event.report),
            before: usage,
            after: usage - (age - report.age),
        }),
        Some(age) => Ok((age.max(watch.entry), None)),
    }
}

/// How the component left our sight, reports apart: the first removal that ends a watch for good, else the last stay.
fn off(watch: &Watch<'_>) -> Result<Ending, ExclusionReason> {
    let hard = watch.stays.iter().position(|stay| {
        stay.fitting
            .ended
            .as_ref()
            .is_some_and(|end| ends_for_good(end.reason))
    });
    let index = hard.unwrap_or_else(|| watch.stays.len().saturating_sub(1));
    let stay = watch.stays.get(index).ok_or(ExclusionReason::NeverFitted)?;
    let at = stay.age_at_end;
    let mut remark = None;
    let end = match stay.fitting.ended.as_ref().map(|end| end.reason) {
        None => LifeEnd::StillFitted { at },
        Some(RemovalReason::Moved) => LifeEnd::OnShelf { at },
        Some(RemovalReason::SecondaryDamage) => LifeEnd::SecondaryDamage { at },
        Some(RemovalReason::Failed) => {
            remark = Some(
                "It was removed as failed and no report says how or when; the failure lies anywhere before.".to_owned(),
            );
            LifeEnd::FailedBetween {
                after: watch.entry,
                by: at,
                mode: FailureModeKey::not_stated(),
            }
        }
        Some(reason) => {
            remark = maybe_informative(reason);
            LifeEnd::Removed { at, reason }
        }
    };
    Ok(Ending {
        end,
        stay: index,
        report: None,
        remark,
        final_for_good: hard.is_some(),
    })
}

/// Removals that may themselves follow from wear, so that the parts left are the better ones.
fn maybe_informative(reason: RemovalReason) -> Option<String> {
    match reason {
        RemovalReason::CrashDamage => {
            Some("It came off after a crash, which may not be independent of its wear.".to_owned())
        }
        RemovalReason::Precaution => {
            Some("It came off as a precaution, which may follow from signs of wear.".to_owned())
        }
        _ => None,
    }
}

const fn ends_for_good(reason: RemovalReason) -> bool {
    matches!(
        reason,
        RemovalReason::Failed
            | RemovalReason::DefectFound
            | RemovalReason::CrashDamage
            | RemovalReason::SecondaryDamage
    )
}

fn sources(watch: &Watch<'_>, ending: &Ending) -> Vec<LifeSource> {
    let mut sources = Vec::new();
    for (index, stay) in watch.stays.iter().enumerate().take(ending.stay + 1) {
        sources.push(LifeSource::Installation(stay.fitting.installation));
        if index == ending.stay {
            sources.extend(ending.report.map(LifeSource::FailureReport));
        }
        sources.extend(
            stay.fitting
                .ended
                .as_ref()
                .map(|end| LifeSource::Removal(end.removal)),
        );
    }
    sources
}
