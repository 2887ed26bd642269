//! Which events are ever told.

use chrono::TimeDelta;

use super::Recorder;
use crate::demo::draw::{chance, log_normal, minutes};
use crate::demo::log::{Ended, Occasion, OccasionKind};

impl Recorder<'_> {
    /// Decided once per occasion.
    pub(super) fn is_told(&mut self, ended: &Ended) -> bool {
        let Occasion { number, kind } = ended.occasion;
        if let Some(told) = self.told.get(&number) {
            return *told;
        }
        let told = kind == OccasionKind::WriteOff || {
            let never = self.share_never_told(ended);
            let reporting = &self.subject.setting.scenario.reporting;
            let delay = log_normal(
                self.random,
                reporting.delay_days_median,
                reporting.delay_days_log_sd,
            );
            let arrives = ended.at + minutes(delay * 24.0 * 60.0);
            !chance(self.random, never)
                && arrives.date_naive() <= self.subject.setting.scenario.period.data_cut
        };
        self.told.insert(number, told);
        told
    }

    fn share_never_told(&self, ended: &Ended) -> f64 {
        let scenario = self.subject.setting.scenario;
        if self.subject.setting.pilot.uses_shop_for_rebuild {
            return 1.0 - scenario.shop.records_complete;
        }
        let never = &scenario.reporting.never_reported;
        match ended.occasion.kind {
            OccasionKind::InFlightFailure => never.in_flight_failure,
            OccasionKind::PlannedRenewal => never.planned_renewal,
            OccasionKind::CrashDamage => never.crash_damage,
            OccasionKind::WriteOff => 0.0,
            OccasionKind::Finding => {
                let attention = &scenario.reporting.attention_after_notice;
                let since = ended.at.date_naive() - scenario.notice.issued;
                let noticed = self.part_type(ended.slot) == Some(&scenario.notice.part_type)
                    && since >= TimeDelta::zero()
                    && since < TimeDelta::weeks(i64::from(attention.weeks));
                let factor = if noticed { attention.factor } else { 1.0 };
                1.0 - ((1.0 - never.inspection_finding) * factor).min(1.0)
            }
        }
    }
}
