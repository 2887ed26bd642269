//! Inspection of one component that gets one defect, which takes a time to become a failure (Christer 1987, European
//! Journal of Operational Research 28; Wang 2012, the same 218).

use super::costs::{finite, positive};
use super::smooth_life::SmoothLife;
use super::{DecisionError, InspectionCosts};
use crate::fitting::LifeDistribution;
use crate::quadrature::integral;
use crate::summation::Sum;

/// Survivors of the time to a defect that are added up one inspection after the other; the few beyond are spread
/// evenly between inspections.
const FEW_LEFT: f64 = 25.0;
const MOST_INSPECTIONS: u32 = 2_000;
/// Inspections within one life at the shortest interval that the search for the best one considers.
const MOST_IN_SEARCH: f64 = 1_000.0;
const GRID: u32 = 120;

/// A component that is renewed at failure or when an inspection finds its defect. Inspections find every defect.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InspectedComponent {
    defect: SmoothLife,
    delay: SmoothLife,
    costs: InspectionCosts,
}

/// What an interval means for one component, from one renewal to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InspectionCycle {
    /// Usage between inspections, the first one interval after renewal.
    pub interval: f64,
    /// Mean cost per unit of usage.
    pub cost_rate: f64,
    /// Share of cycles that end in a failure.
    pub failing_share: f64,
    /// Mean usage between renewals.
    pub mean_cycle: f64,
    /// Mean number of inspections between renewals.
    pub inspections: f64,
}

impl InspectedComponent {
    /// Usage until a defect, delay from defect to failure, and costs.
    ///
    /// # Errors
    /// For a family not served, or an extreme shape.
    pub fn new(
        defect: LifeDistribution,
        delay: LifeDistribution,
        costs: InspectionCosts,
    ) -> Result<Self, DecisionError> {
        Ok(Self {
            defect: SmoothLife::new(defect)?,
            delay: SmoothLife::new(delay)?,
            costs,
        })
    }

    /// Mean cost per unit of usage when never inspected.
    ///
    /// # Errors
    /// When a mean does not exist.
    pub fn cost_without_inspection(&self) -> Result<f64, DecisionError> {
        let (Some(defect), Some(delay)) = (self.defect.mean(), self.delay.mean()) else {
            return Err(DecisionError::NoMean);
        };
        finite(self.costs.failure() / (defect + delay))
    }

    /// What an interval means. Mean cost over mean usage of a cycle: a failure costs its own cost, a defect found that
    /// of a repair, and every inspection up to the end of the cycle that of an inspection.
    ///
    /// # Errors
    /// For an interval that is not finite and above 0, or so short that too many inspections fall into one life; when
    /// the mean usage to a defect does not exist; when an integral does not converge.
    pub fn at(&self, interval: f64) -> Result<InspectionCycle, DecisionError> {
        self.cycle(interval, 1e-11)
    }

    fn cycle(&self, interval: f64, accuracy: f64) -> Result<InspectionCycle, DecisionError> {
        positive("interval", interval)?;
        let mean = self.defect.mean().ok_or(DecisionError::NoMean)?;
        let far = self.defect.ln_usage_at(FEW_LEFT).exp();
        let number = (far / interval).ceil().max(1.0);
        if number.is_nan() || number > f64::from(MOST_INSPECTIONS) {
            return Err(DecisionError::TooManyInspections {
                most: MOST_INSPECTIONS,
            });
        }
        let upto = |less: f64| -> f64 {
            let mut total = Sum::default();
            let mut j = 1.0;
            while j <= number {
                total.add(self.defect.survival(j * interval - less));
                j += 1.0;
            }
            total.total()
        };
        let before_each = upto(interval);
        let left = self.defect.survival(number * interval);
        // Chance that a defect arises more than `rest` before the next inspection.
        let more_than = |rest: f64| {
            let evenly = left * (1.0 - rest / interval);
            (before_each - upto(rest) + evenly).clamp(0.0, 1.0)
        };
        let failed = self.delay.failure(interval);
        let end = interval.ln().min(self.delay.ln_usage_at(700.0));
        let first = self
            .delay
            .ln_usage_at(failed.max(1e-280) * 1e-15)
            .max(end - 500.0);
        let failing_share = integral(
            |y| {
                let density = (self.delay.ln_hazard(y) + y).exp() * self.delay.survival_at(y);
                if density > 0.0 {
                    more_than(y.exp()) * density
                } else {
                    0.0
                }
            },
            first.min(end),
            end,
            accuracy,
        )
        .ok_or(DecisionError::NotConverged)?
        .clamp(0.0, 1.0);
        let after_defect = integral(
            |y| more_than(y.exp()) * self.delay.survival_at(y) * y.exp(),
            end.min(self.delay.location) - 42.0,
            end,
            accuracy,
        )
        .ok_or(DecisionError::NotConverged)?;
        // Inspections before the defect: the sum of survival at all of them, the far ones by their integral.
        let counted = before_each - 1.0 + left;
        let beyond = mean
            - self
                .defect
                .mean_up_to(number * interval)
                .ok_or(DecisionError::NotConverged)?;
        let sound = counted + (beyond / interval - 0.5 * left).max(0.0);
        let inspections = sound + 1.0 - failing_share;
        let mean_cycle = finite(mean + after_defect)?;
        let cost = self.costs.failure() * failing_share
            + self.costs.repair() * (1.0 - failing_share)
            + self.costs.inspection() * inspections;
        Ok(InspectionCycle {
            interval,
            cost_rate: finite(cost / mean_cycle)?,
            failing_share,
            mean_cycle,
            inspections: finite(inspections)?,
        })
    }

    /// The interval that costs least, or none when never inspecting costs no more.
    ///
    /// The cost may have several low points when defects come at a narrow age, so intervals are tried on a grid of
    /// equal ratios first, from 1000 inspections in a long life to none.
    ///
    /// # Errors
    /// As [`Self::at`], and when the cost still falls at the shortest interval tried.
    pub fn best(&self) -> Result<Option<InspectionCycle>, DecisionError> {
        let never = self.cost_without_inspection()?;
        let far = self.defect.ln_usage_at(FEW_LEFT);
        let late = self.delay.ln_usage_at(FEW_LEFT).exp() + far.exp();
        let (low, high) = (far - MOST_IN_SEARCH.ln(), finite(late)?.ln());
        let step = (high - low) / f64::from(GRID);
        let rate =
            |ln: f64, accuracy: f64| self.cycle(ln.exp(), accuracy).map(|cycle| cycle.cost_rate);
        let mut best = (f64::INFINITY, 0_u32);
        for place in 0..=GRID {
            let cost = rate(low + f64::from(place) * step, 1e-7)?;
            if cost < best.0 {
                best = (cost, place);
            }
        }
        if best.1 == 0 {
            return Err(DecisionError::ShorterThanSearched {
                shortest: low.exp(),
            });
        }
        let centre = low + f64::from(best.1) * step;
        let ln = lowest(|ln| rate(ln, 1e-11), centre - step, centre + step)?;
        let cycle = self.at(ln.exp())?;
        Ok((cycle.cost_rate < never).then_some(cycle))
    }
}

/// Golden-section search (Kiefer 1953) for a low point between two ends.
fn lowest(
    mut f: impl FnMut(f64) -> Result<f64, DecisionError>,
    mut low: f64,
    mut high: f64,
) -> Result<f64, DecisionError> {
    const GOLDEN: f64 = 0.618_033_988_749_894_8;
    let mut left = high - GOLDEN * (high - low);
    let mut right = low + GOLDEN * (high - low);
    let (mut at_left, mut at_right) = (f(left)?, f(right)?);
    while high - low > 1e-9 {
        if at_left <= at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - GOLDEN * (high - low);
            at_left = f(left)?;
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + GOLDEN * (high - low);
            at_right = f(right)?;
        }
    }
    Ok(0.5 * (low + high))
}
