//! Drawing samples like one seen: same windows of watching, lives from the fit.

use rand::Rng;

use super::LimitsError;
use super::bootstrap::exponential;
use crate::fitting::Fit;
use crate::observation::{Ending, Observation};
use crate::sample::Sample;

/// How lives are drawn.
///
/// A survivor would be watched as long again. A failure would be watched as long as a life picked among those that
/// ended later, or if that one failed, as long as one picked after it; without later ones, until it fails. Where
/// every survivor was withdrawn at the last failure, the drawn sample stops at the same number of failures. Failures
/// not seen exactly are looked for at the bounds of those in the sample.
#[derive(Clone, Debug)]
pub(crate) struct Scheme {
    fit: Fit,
    /// In order of their ends, failures first.
    lives: Vec<Life>,
    /// Lives up to and with each entry of the list.
    up_to: Vec<u64>,
    /// Usages at which failures were looked for.
    looks: Vec<f64>,
    /// Share of the failures not seen exactly.
    inexact: f64,
    /// Failures after which watching stops.
    stop_after: Option<u64>,
}

#[derive(Clone, Copy, Debug)]
struct Life {
    entry: f64,
    end: f64,
    failed: bool,
    exact: bool,
    count: u64,
}

/// Lives drawn one by one in all samples together; beyond it the bootstrap would take minutes to say the same as
/// the likelihood ratio.
const MOST_DRAWS: f64 = 2e8;

impl Scheme {
    pub(crate) fn new(sample: &Sample, fit: &Fit, resamples: u32) -> Result<Self, LimitsError> {
        let mut looks = Vec::new();
        let mut lives: Vec<Life> = Vec::new();
        for row in sample.observations() {
            let ending = row.ending();
            if matches!(ending, Ending::LeftCensored | Ending::IntervalCensored) {
                looks.extend([row.lower, row.upper].into_iter().filter(|at| *at > 0.0));
            }
            let failed = ending != Ending::RightCensored;
            lives.push(Life {
                entry: row.entry,
                end: if failed { row.upper } else { row.lower },
                failed,
                exact: ending == Ending::Exact,
                count: row.count,
            });
        }
        looks.sort_by(f64::total_cmp);
        looks.dedup();
        lives.sort_by(|a, b| {
            a.end
                .total_cmp(&b.end)
                .then(b.failed.cmp(&a.failed))
                .then(a.entry.total_cmp(&b.entry))
                .then(a.exact.cmp(&b.exact))
        });
        let failures = sample.failures();
        let last = lives.iter().filter(|life| life.failed).map(|life| life.end);
        let last = last.fold(0.0, f64::max);
        let stopped = looks.is_empty()
            && sample.right_censored() > 0
            && sample.delayed_entry() == 0
            && lives
                .iter()
                .all(|life| life.failed || life.end.to_bits() == last.to_bits());
        let mut total = 0;
        let up_to = lives
            .iter()
            .map(|life| {
                total += life.count;
                total
            })
            .collect();
        let scheme = Self {
            fit: fit.clone(),
            lives,
            up_to,
            looks,
            inexact: (sample.left_censored() + sample.interval_censored()) as f64 / failures as f64,
            stop_after: stopped.then_some(failures),
        };
        let each = if stopped {
            sample.lives() as f64
        } else {
            failures as f64 + scheme.expected_of_survivors()
        };
        if each * f64::from(resamples) > MOST_DRAWS {
            return Err(LimitsError::TooManyLives {
                lives: sample.lives(),
            });
        }
        Ok(scheme)
    }

    fn expected_of_survivors(&self) -> f64 {
        self.lives
            .iter()
            .filter(|life| !life.failed)
            .map(|life| {
                life.count as f64
                    * self
                        .fit
                        .conditional_failure(life.entry, life.end - life.entry)
            })
            .sum()
    }

    /// One sample; none if it is not a valid one.
    pub(crate) fn sample(&self, random: &mut impl Rng) -> Option<Sample> {
        let mut drawn = Vec::new();
        if let Some(failures) = self.stop_after {
            self.stopped(failures, random, &mut drawn)?;
        } else {
            for (place, life) in self.lives.iter().enumerate() {
                if life.failed {
                    for _ in 0..life.count {
                        let end = self.window(place, random);
                        self.draw(life, end, exponential(random), random, &mut drawn);
                    }
                } else {
                    self.survivors(life, random, &mut drawn);
                }
            }
        }
        Sample::new(drawn).ok()
    }

    /// All lives from new, watched until a number of them has failed.
    fn stopped(
        &self,
        failures: u64,
        random: &mut impl Rng,
        drawn: &mut Vec<Observation>,
    ) -> Option<()> {
        let total = *self.up_to.last()?;
        let mut usages: Vec<f64> = (0..total)
            .map(|_| self.usage(0.0, exponential(random)))
            .collect();
        usages.sort_by(f64::total_cmp);
        let failures = usize::try_from(failures).ok()?;
        let last = *usages.get(failures.checked_sub(1)?)?;
        drawn.extend(
            usages
                .iter()
                .take(failures)
                .map(|at| Observation::exact(*at)),
        );
        if let Some(rest) = u64::try_from(usages.len() - failures)
            .ok()
            .filter(|rest| *rest > 0)
        {
            drawn.push(Observation::right_censored(last).times(rest));
        }
        Some(())
    }

    /// The lives of a row of survivors: how many would fail in their window, by the gaps between them.
    fn survivors(&self, life: &Life, random: &mut impl Rng, drawn: &mut Vec<Observation>) {
        let share = self
            .fit
            .conditional_failure(life.entry, life.end - life.entry);
        let ln_none = (-share).ln_1p();
        let mut left = life.count as f64;
        let mut failed = 0;
        loop {
            let gap = (exponential(random) / -ln_none).floor();
            if gap.is_nan() || gap >= left {
                break;
            }
            left -= gap + 1.0;
            failed += 1;
            let gained = -(-random.random::<f64>() * share).ln_1p();
            self.draw(life, life.end, gained, random, drawn);
        }
        if life.count > failed && life.end > 0.0 {
            drawn.push(
                Observation::right_censored(life.end)
                    .entered_at(life.entry)
                    .times(life.count - failed),
            );
        }
    }

    /// Until when a failure would have been watched.
    fn window(&self, place: usize, random: &mut impl Rng) -> f64 {
        let total = self.up_to.last().copied().unwrap_or(0);
        let mut place = place;
        loop {
            let before = self.up_to.get(place).copied().unwrap_or(total);
            if before >= total {
                return f64::INFINITY;
            }
            let picked = random.random_range(before..total);
            place = self.up_to.partition_point(|up_to| *up_to <= picked);
            match self.lives.get(place) {
                Some(life) if life.failed => {}
                Some(life) => return life.end,
                None => return f64::INFINITY,
            }
        }
    }

    /// The usage at which the cumulative hazard has grown by `gained` since `entry`.
    fn usage(&self, entry: f64, gained: f64) -> f64 {
        let spent = self.fit.cumulative_hazard(entry);
        let z = self.fit.family.standard_quantile(spent + gained);
        (self.fit.location + z / self.fit.log_shape.exp())
            .exp()
            .max(entry * (1.0 + 4.0 * f64::EPSILON))
    }

    fn draw(
        &self,
        life: &Life,
        end: f64,
        gained: f64,
        random: &mut impl Rng,
        drawn: &mut Vec<Observation>,
    ) {
        let at = self.usage(life.entry, gained);
        let inexact = if life.failed {
            !life.exact
        } else {
            self.inexact > 0.0 && random.random::<f64>() < self.inexact
        };
        let seen = if at > end {
            Observation::right_censored(end)
        } else if !inexact {
            Observation::exact(at)
        } else {
            let next = self.looks.partition_point(|look| *look < at);
            let before = next
                .checked_sub(1)
                .and_then(|place| self.looks.get(place).copied())
                .unwrap_or(0.0)
                .max(life.entry);
            match self.looks.get(next) {
                Some(look) => Observation::interval(before, look.min(end)),
                None if end.is_finite() => Observation::interval(before, end),
                None => Observation::right_censored(before),
            }
        };
        drawn.push(seen.entered_at(life.entry));
    }
}
