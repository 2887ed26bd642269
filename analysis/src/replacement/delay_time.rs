//! Inspection of something in which defects arise at a constant rate and take a time to become failures (Christer and
//! Waller 1984, Journal of the Operational Research Society 35, the basic delay-time model).

use super::costs::{finite, not_negative, positive};
use super::smooth_life::SmoothLife;
use super::{DecisionError, InspectionCosts};
use crate::fitting::LifeDistribution;
use crate::solve::root;
use crate::summation::Sum;

/// Detection chances below this are refused: the sum over missed inspections grows as one over the chance.
const LEAST_DETECTION: f64 = 0.01;

/// Defects at a constant rate, each with a delay before it fails, looked for every interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DelayTime {
    defect_rate: f64,
    delay: SmoothLife,
    detection: f64,
    downtime: f64,
    costs: InspectionCosts,
}

/// The interval that costs least, or that none does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BestInterval {
    /// Inspect at this interval.
    Every(InspectionInterval),
    /// No interval costs least.
    None(NoInterval),
}

/// Why no interval costs least.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoInterval {
    /// Inspections never earn their cost: the rate falls the longer the interval.
    InspectionDoesNotPay,
    /// Inspections cost nothing, or less than the defects that cannot arise meanwhile: the shorter the better.
    ShorterIsAlwaysBetter,
}

/// What one interval means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InspectionInterval {
    /// Usage between inspections.
    pub interval: f64,
    /// Mean cost per unit of usage, inspections' own downtime included.
    pub cost_rate: f64,
    /// Share of defects that fail before an inspection finds them.
    pub failing_share: f64,
    /// Failures expected per interval.
    pub failures_per_interval: f64,
}

impl DelayTime {
    /// Defects arise `defect_rate` times per unit of usage; each inspection takes `downtime` and finds every defect.
    ///
    /// # Errors
    /// For a rate that is not finite and above 0, a downtime that is negative or not finite, or a delay of a family not
    /// served or with an extreme shape.
    pub fn new(
        defect_rate: f64,
        delay: LifeDistribution,
        downtime: f64,
        costs: InspectionCosts,
    ) -> Result<Self, DecisionError> {
        positive("rate of defects", defect_rate)?;
        not_negative("downtime of an inspection", downtime)?;
        Ok(Self {
            defect_rate,
            delay: SmoothLife::new(delay)?,
            detection: 1.0,
            downtime,
            costs,
        })
    }

    /// The same with inspections that each find a defect present with this chance, one independent of the other.
    ///
    /// # Errors
    /// For a chance outside 0.01 to 1.
    pub fn with_detection(self, chance: f64) -> Result<Self, DecisionError> {
        if !(LEAST_DETECTION..=1.0).contains(&chance) {
            return Err(DecisionError::Value {
                name: "chance of detection",
                rule: "at least 0.01 and at most 1",
                value: chance,
            });
        }
        Ok(Self {
            detection: chance,
            ..self
        })
    }

    /// Mean cost per unit of usage without inspections: every defect becomes a failure.
    #[must_use]
    pub fn cost_without_inspection(&self) -> f64 {
        self.defect_rate * self.costs.failure()
    }

    /// What an interval means: with `b` the share that fails first, `(rate interval (failure b + repair (1 - b)) +
    /// inspection) / (interval + downtime)`. Defects that arise during an inspection are left out.
    ///
    /// # Errors
    /// For an interval that is not finite and above 0, or a number out of range.
    pub fn at(&self, interval: f64) -> Result<InspectionInterval, DecisionError> {
        positive("interval", interval)?;
        let failing = self.failing(interval)?;
        let failing_share = (failing / interval).clamp(0.0, 1.0);
        let found = (interval - failing).max(0.0);
        let cost = self.defect_rate
            * (self.costs.failure() * failing + self.costs.repair() * found)
            + self.costs.inspection();
        Ok(InspectionInterval {
            interval,
            cost_rate: finite(cost / (interval + self.downtime))?,
            failing_share,
            failures_per_interval: finite(self.defect_rate * failing)?,
        })
    }

    /// The interval that costs least. The failures per interval are convex in the interval, so there is at most one.
    ///
    /// # Errors
    /// When an integral or the search does not converge, or a number leaves its range.
    pub fn best(&self) -> Result<BestInterval, DecisionError> {
        let gain = self.costs.failure() - self.costs.repair();
        let standing =
            self.costs.inspection() - self.defect_rate * self.costs.repair() * self.downtime;
        if standing <= 0.0 {
            return Ok(BestInterval::None(NoInterval::ShorterIsAlwaysBetter));
        }
        let most = self
            .delay
            .mean()
            .map_or(f64::INFINITY, |mean| self.detection * mean + self.downtime);
        if gain <= 0.0 || self.defect_rate * gain * most <= standing {
            return Ok(BestInterval::None(NoInterval::InspectionDoesNotPay));
        }
        // Rises from below 0 to above it.
        let gap = |ln_interval: f64| {
            let interval = ln_interval.exp();
            match (self.excess(interval), self.marginal(interval)) {
                (Ok(excess), Ok(marginal)) => {
                    self.defect_rate * gain * (excess + marginal * self.downtime) - standing
                }
                _ => f64::NAN,
            }
        };
        let start = self.delay.location;
        let mut low = start;
        let mut step = 1.0;
        while gap(low) > 0.0 {
            low -= step;
            step *= 1.6;
            if low < -700.0 {
                return Err(DecisionError::OutOfRange);
            }
        }
        let mut high = start;
        step = 1.0;
        while gap(high) < 0.0 {
            high += step;
            step *= 1.6;
            if high > 700.0 {
                // The saving left is below what numbers can tell.
                return Ok(BestInterval::None(NoInterval::InspectionDoesNotPay));
            }
        }
        let ln_interval = root(gap, low, high).ok_or(DecisionError::NotConverged)?;
        self.at(ln_interval.exp()).map(BestInterval::Every)
    }

    /// Defects of one interval that fail first, per defect and unit of usage, times the interval: with detection `d`
    /// the sum over `j` of `d (1-d)^(j-1)` times the integral of the delay's failures over the `j`-th interval.
    fn failing(&self, interval: f64) -> Result<f64, DecisionError> {
        let mut total = Sum::default();
        self.each_inspection(|j, weight| {
            let (from, to) = ((j - 1.0) * interval, j * interval);
            let area = self.delay.failed_between(from, to)?;
            total.add(weight * area);
            // From here on every delay is over, and the weights left add up to the chance of missing so far.
            if self.delay.cumulative_hazard(to) > 40.0 {
                total.add(weight / self.detection * (1.0 - self.detection) * interval);
                return Some(false);
            }
            Some(true)
        })?;
        finite(total.total())
    }

    /// Derivative of [`Self::failing`]: `d^2` times the sum over `j` of `j (1-d)^(j-1) F(j interval)`.
    fn marginal(&self, interval: f64) -> Result<f64, DecisionError> {
        let mut total = Sum::default();
        self.each_inspection(|j, weight| {
            let at = j * interval;
            total.add(self.detection * weight * j * self.delay.failure(at));
            if self.delay.cumulative_hazard(at) > 40.0 {
                // Sum of i d^2 (1-d)^(i-1) for i > j is (1-d)^j (1 + j d).
                let missed = weight / self.detection * (1.0 - self.detection);
                total.add(missed * (1.0 + j * self.detection));
                return Some(false);
            }
            Some(true)
        })?;
        finite(total.total())
    }

    /// The interval times [`Self::marginal`], less [`Self::failing`]. For long intervals by survival, where both are
    /// near the interval itself: `d^2` times the sum over `j` of `(1-d)^(j-1)` times the mean delay cut off at `j`
    /// intervals, less `j` intervals times the survival there.
    fn excess(&self, interval: f64) -> Result<f64, DecisionError> {
        if interval.ln() <= self.delay.location {
            return finite(interval * self.marginal(interval)? - self.failing(interval)?);
        }
        let mut total = Sum::default();
        self.each_inspection(|j, weight| {
            let at = j * interval;
            let whole = self.delay.mean_up_to(at)?;
            total.add(self.detection * weight * (whole - at * self.delay.survival(at)));
            if self.delay.cumulative_hazard(at) > 40.0 {
                total.add(weight * (1.0 - self.detection) * whole);
                return Some(false);
            }
            Some(true)
        })?;
        finite(total.total())
    }

    /// Calls with the number of the inspection and the chance that it is the one that finds, until told to stop or the
    /// chance is spent.
    fn each_inspection(
        &self,
        mut each: impl FnMut(f64, f64) -> Option<bool>,
    ) -> Result<(), DecisionError> {
        let (mut j, mut weight) = (1.0, self.detection);
        while weight > self.detection * 1e-18 {
            if !each(j, weight).ok_or(DecisionError::NotConverged)? {
                break;
            }
            j += 1.0;
            weight *= 1.0 - self.detection;
        }
        Ok(())
    }
}
