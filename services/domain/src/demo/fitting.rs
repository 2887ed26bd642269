//! Draws the item that goes into a position on a day: its life, its lot, and what its owner means to do with it.

use chrono::NaiveDate;
use rand::Rng;
use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;

use crate::vocabulary::FailureCause;

use super::draw::{chance, exponential, log_normal, weibull};
use super::scenario::{AircraftPlan, LifeModel, Part, PartScale, PilotPlan, Scenario, Style};
use super::wear::{Item, Threat, Worn};

/// What bears on every part of one aircraft.
#[derive(Debug, Clone)]
pub(super) struct Setting<'s> {
    pub scenario: &'s Scenario,
    pub plan: &'s AircraftPlan,
    pub pilot: &'s PilotPlan,
    pub style: &'s Style,
    pub dust: f64,
    pub follows_notice_from: Option<NaiveDate>,
    pub greases: bool,
    /// The aircraft carries what brings on the emerging mode.
    pub carries_emerging: bool,
}

impl Setting<'_> {
    /// Units of the part's own wear for one unit of usage on its scale.
    fn wear_per_usage(&self, part: &Part) -> f64 {
        let style = part
            .style_exposure_factor
            .get(&self.pilot.style)
            .copied()
            .unwrap_or(1.0);
        let dust = if part.feels_dust { self.dust } else { 1.0 };
        let turns_taken = match part.scale {
            PartScale::ChargeCycles => f64::from(part.per_aircraft.max(1)),
            PartScale::Flights | PartScale::FlightMinutes | PartScale::RotorKrev => 1.0,
        };
        style * dust / turns_taken
    }

    /// The lot of the bag bought that day, for part types whose lots matter.
    pub(super) fn draw_lot(
        &self,
        part: &Part,
        day: NaiveDate,
        random: &mut ChaCha8Rng,
    ) -> Option<String> {
        let lot = &self.scenario.bad_lot;
        if part.part_type != lot.part_type {
            return None;
        }
        let on_sale =
            lot.designs.contains(&self.plan.design) && (lot.sold_from..=lot.sold_to).contains(&day);
        if on_sale && chance(random, lot.share_of_fits_in_window) {
            return Some(lot.lot.clone());
        }
        lot.normal_lots.choose(random).cloned()
    }

    /// A new item out of that bag, fitted that day.
    pub(super) fn draw_item(
        &self,
        part: &Part,
        day: NaiveDate,
        lot: Option<String>,
        random: &mut ChaCha8Rng,
    ) -> Item {
        let mut item = Item {
            scale: part.scale,
            worn: Worn::default(),
            threats: vec![self.draw_life(part, day, lot.as_deref(), random)],
            renew_at_flights: self.draw_renewal(part, random),
            settling_check_at_flights: self.draw_settling_check(part, random),
            lot,
            failed_unseen: None,
        };
        if day >= self.scenario.emerging_mode.starts {
            self.add_emerging(part, &mut item, random);
        }
        item
    }

    /// Adds the emerging mode as a competing life that begins with the item's present usage.
    pub(super) fn add_emerging(&self, part: &Part, item: &mut Item, random: &mut ChaCha8Rng) {
        let emerging = &self.scenario.emerging_mode;
        if !self.carries_emerging || part.part_type != emerging.part_type {
            return;
        }
        let now = item.worn.on(part.scale);
        let wear = self.wear_per_usage(part);
        let left = weibull(random, emerging.shape, emerging.life) / wear;
        let shown = exponential(random, emerging.defect_delay_mean) / wear;
        item.threats.push(Threat {
            at: now + left,
            visible_from: now + (left - shown).max(0.0),
            mode: emerging.mode.clone(),
            cause: FailureCause::Design,
            outcome: emerging.outcome,
            from_assembly: false,
        });
    }

    fn draw_life(
        &self,
        part: &Part,
        day: NaiveDate,
        lot: Option<&str>,
        random: &mut ChaCha8Rng,
    ) -> Threat {
        let early = part
            .early_after_rebuild
            .as_ref()
            .filter(|early| chance(random, early.share * self.assembly_factor(part, day)));
        let bad_lot = &self.scenario.bad_lot;
        let (model, cause) = match early {
            Some(early) => (
                LifeModel {
                    mode: early.mode.clone(),
                    shape: early.shape,
                    life: early.life,
                },
                FailureCause::Assembly,
            ),
            None if lot == Some(bad_lot.lot.as_str()) => (
                LifeModel {
                    mode: bad_lot.mode.clone(),
                    shape: bad_lot.shape_in_lot,
                    life: part.wear_out.life * bad_lot.life_factor,
                },
                FailureCause::Material,
            ),
            None => (part.wear_out.clone(), FailureCause::Wear),
        };
        let design = part
            .design_life_factor
            .get(&self.plan.design)
            .copied()
            .unwrap_or(1.0);
        let median = design * self.grease_factor(part) / self.wear_per_usage(part);
        let at = weibull(random, model.shape, model.life)
            * log_normal(random, median, part.unit_frailty_log_sd);
        let shown = exponential(random, part.defect_delay_mean) / self.wear_per_usage(part);
        // Where nothing shows beforehand a look can only find the failure itself.
        let visible_from = if part.defect_delay_mean > 0.0 {
            (at - shown).max(0.0)
        } else {
            at
        };
        Threat {
            at,
            visible_from,
            mode: model.mode,
            cause,
            outcome: part.if_not_found,
            from_assembly: early.is_some(),
        }
    }

    /// Factor on the share of assembly failures: the shop's care and the notice.
    fn assembly_factor(&self, part: &Part, day: NaiveDate) -> f64 {
        let shop = if self.pilot.uses_shop_for_rebuild {
            self.scenario.shop.early_failure_multiplier
        } else {
            1.0
        };
        let notice = &self.scenario.notice;
        let heeds = part.part_type == notice.part_type
            && self.follows_notice_from.is_some_and(|from| day >= from);
        if heeds { shop * notice.factor } else { shop }
    }

    fn grease_factor(&self, part: &Part) -> f64 {
        let grease = &self.scenario.grease;
        if part.part_type == grease.part_type && !self.greases {
            grease.life_factor_if_never
        } else {
            1.0
        }
    }

    fn draw_renewal(&self, part: &Part, random: &mut ChaCha8Rng) -> Option<f64> {
        let plan = part.planned_renewal.as_ref()?;
        chance(random, plan.followed)
            .then(|| log_normal(random, plan.at_flights, plan.scatter_log_sd))
    }

    fn draw_settling_check(&self, part: &Part, random: &mut ChaCha8Rng) -> Option<f64> {
        part.early_after_rebuild.as_ref()?;
        let check = &self.scenario.settling_check;
        chance(random, check.done)
            .then(|| f64::from(random.random_range(check.from_flights..=check.to_flights)))
    }

    /// The item found in a position of an aircraft that has flown before: the last of a chain of renewals. Its
    /// lot is not known.
    pub(super) fn draw_used_item(
        &self,
        part: &Part,
        day: NaiveDate,
        flights_before: f64,
        random: &mut ChaCha8Rng,
    ) -> Item {
        let each = Worn::of_flights(1.0, self.style.minutes_mean, self.plan.head_speed_rpm);
        let mut left = flights_before;
        loop {
            let mut item = self.draw_item(part, day, None, random);
            let fails =
                item.nearest().map_or(f64::INFINITY, |threat| threat.at) / each.on(part.scale);
            let ends = fails.min(item.renew_at_flights.unwrap_or(f64::INFINITY));
            if ends > left {
                item.worn =
                    Worn::of_flights(left, self.style.minutes_mean, self.plan.head_speed_rpm);
                item.settling_check_at_flights = None;
                return item;
            }
            left -= ends;
        }
    }
}
