//! The failure report as its writer fills it in.

use chrono::{DateTime, Utc};

use super::Recorder;
use crate::demo::draw::chance;
use crate::demo::log::{Effect, Failed};
use crate::demo::mint::bits;
use crate::demo::records::DemoFailure;
use crate::ids::{ComponentId, FailureReportId, InstallationId};
use crate::vocabulary::{Discovery, FailureCause, Severity};

impl Recorder<'_> {
    pub(super) fn report(
        &mut self,
        slot: usize,
        failed: &Failed,
        (component, installation): (ComponentId, InstallationId),
        fitted_at: DateTime<Utc>,
    ) -> DemoFailure {
        let setting = self.subject.setting;
        let reporting = &setting.scenario.reporting;
        let habits = reporting.classes.get(&setting.pilot.reporting);
        let keeps_looks = chance(
            self.random,
            habits.map_or(0.0, |habits| habits.looks_recorded),
        );
        let knows_cause = chance(self.random, reporting.cause_recorded);
        let last_sound = self.last_sound.get(&slot).copied();
        let mode = self
            .part_type(slot)
            .and_then(|key| self.subject.catalogue.part_type(key))
            .and_then(|part| part.failure_mode(&failed.mode));
        DemoFailure {
            id: FailureReportId::from_parts(failed.at, bits(self.random)),
            component,
            installation,
            occurred_at: failed.at,
            discovery: failed.discovery,
            last_known_good_at: last_sound
                .filter(|_| keeps_looks && failed.discovery != Discovery::InFlight)
                .filter(|at| fitted_at < *at && *at < failed.at),
            mode: failed.mode.clone(),
            role: failed.role,
            cause: if knows_cause {
                failed.cause
            } else {
                FailureCause::Unknown
            },
            severity: match failed.effect {
                Effect::Crash => Severity::Catastrophic,
                Effect::ForcedLanding => Severity::Critical,
                Effect::CarriedOn => Severity::Marginal,
                Effect::SeenOnTheGround => mode.map_or(Severity::Marginal, |mode| mode.severity),
            },
            detail: detail(
                failed,
                mode.map_or(failed.mode.as_str(), |mode| mode.name.as_str()),
            ),
        }
    }
}

fn detail(failed: &Failed, mode: &str) -> String {
    let effect = match failed.effect {
        Effect::Crash => "Lost control or power and crashed.",
        Effect::ForcedLanding => "Landed at once, without damage.",
        Effect::CarriedOn => "Noticed in flight, landed normally.",
        Effect::SeenOnTheGround => match failed.discovery {
            Discovery::DefectFoundAtCheck => "Seen at a check before it failed.",
            Discovery::InFlight | Discovery::FoundFailedAtCheck => "Found failed on the ground.",
        },
    };
    format!("{mode}. {effect}")
}
