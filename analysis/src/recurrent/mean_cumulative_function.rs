//! Mean number of events per system up to an age, without a model of how they come (Nelson 1988, Journal of Quality
//! Technology 20; Nelson 1995 and Lawless and Nadeau 1995, both Technometrics 37).

use super::RecurrentError;
use super::history::Histories;
use crate::special::normal;
use crate::summation::Sum;
use crate::warning::{Warning, WarningCode};

/// How pointwise limits of the mean are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanLimits {
    /// Scale on which the mean is taken as normal.
    pub kind: MeanLimitKind,
    /// Variance used.
    pub variance: MeanVariance,
    /// Two-sided confidence level in (0, 1).
    pub level: f64,
}

impl Default for MeanLimits {
    fn default() -> Self {
        Self {
            kind: MeanLimitKind::Log,
            variance: MeanVariance::Robust,
            level: 0.95,
        }
    }
}

/// Scale on which the mean is taken as normal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MeanLimitKind {
    /// Logarithm of the mean; limits stay above 0. The default.
    Log,
    /// The mean itself, as Nelson 1995 does; the lower limit may fall below 0 and is then shown as it is.
    Plain,
}

/// Which variance the limits use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MeanVariance {
    /// Lawless and Nadeau 1995: holds whatever the dependence of events within a system. The default.
    Robust,
    /// Nelson 1995: unbiased variances and covariances of the events per system. Not with late starts, nor once fewer
    /// than two systems are watched; may come out negative and is then absent.
    Nelson,
    /// `sum d / n^2`: holds only if the events of all systems are Poisson with one rate.
    Poisson,
}

/// A step curve of the mean cumulative number of events; 0 before the first point.
#[derive(Clone, Debug, PartialEq)]
pub struct MeanCumulativeFunction {
    /// How the limits were made.
    pub limits: MeanLimits,
    /// One point at every age with an event.
    pub points: Vec<MeanCumulativePoint>,
    /// Longest age watched; the curve says nothing beyond it.
    pub longest_age: f64,
    /// Cautions about the curve.
    pub warnings: Vec<Warning>,
}

/// The mean just after one age.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanCumulativePoint {
    /// Age.
    pub age: f64,
    /// Systems with `start < age <= end`.
    pub at_risk: u64,
    /// Events at this age.
    pub events: u64,
    /// Mean number of events per system up to this age.
    pub mean: f64,
    /// Variance of the mean by Lawless and Nadeau 1995; none for a single system, which has no spread.
    pub variance_robust: Option<f64>,
    /// Variance of the mean by Nelson 1995; none where it does not exist, see [`MeanVariance::Nelson`].
    pub variance_nelson: Option<f64>,
    /// Variance of the mean if events are Poisson.
    pub variance_poisson: f64,
    /// Lower limit; none where the variance asked for does not exist.
    pub lower: Option<f64>,
    /// Upper limit; none as above.
    pub upper: Option<f64>,
}

/// Estimates the mean cumulative function of events per system.
///
/// # Errors
/// Without systems or events, or for a level outside (0, 1).
pub fn mean_cumulative_function(
    histories: &Histories,
    limits: MeanLimits,
) -> Result<MeanCumulativeFunction, RecurrentError> {
    if !(limits.level > 0.0 && limits.level < 1.0) {
        return Err(RecurrentError::Level {
            value: limits.level,
        });
    }
    if histories.count() == 0 {
        return Err(RecurrentError::NoSystems);
    }
    if histories.events() == 0 {
        return Err(RecurrentError::NoEvents);
    }
    let z = normal::upper_quantile((0.5 * (1.0 - limits.level)).ln());
    let mut watch = Watch::new(histories);
    let mut points = Vec::new();
    let happenings = happenings(histories);
    for happened in happenings.chunk_by(|a, b| a.age == b.age) {
        if let Some(first) = happened.first() {
            watch.move_to(first.age);
            points.push(watch.step(first.age, happened, &limits, z));
        }
    }
    Ok(MeanCumulativeFunction {
        limits,
        warnings: watch.cautions(&points),
        points,
        longest_age: histories.longest_age(),
    })
}

/// Events of one system at one age.
#[derive(Clone, Copy)]
struct Happening {
    age: f64,
    system: usize,
    times: u64,
}

/// All events in order of age, those of one system at one age together.
fn happenings(histories: &Histories) -> Vec<Happening> {
    let mut all: Vec<Happening> = Vec::new();
    for (system, history) in histories.systems().iter().enumerate() {
        for ages in history.events.chunk_by(|a, b| a == b) {
            all.extend(ages.first().map(|age| Happening {
                age: *age,
                system,
                times: ages.len() as u64,
            }));
        }
    }
    all.sort_by(|a, b| a.age.total_cmp(&b.age).then(a.system.cmp(&b.system)));
    all
}

/// One system while it is followed.
#[derive(Clone, Copy)]
struct Followed {
    count: f64,
    /// Its excess over the mean so far is `ahead` less what all have been expected to gain.
    ahead: f64,
    /// Its events, each over the number at risk.
    own: f64,
}

/// Sums over the systems being watched, moved on from event to event.
///
/// The robust variance is the sum over systems of the square of the excess of events over the mean, each step over the
/// number at risk. At an event every watched system falls back by the same amount, so the sum of squares is kept up
/// from its own value and the sum of the excesses; only systems with an event are touched one by one.
struct Watch<'a> {
    histories: &'a Histories,
    followed: Vec<Followed>,
    starts: Vec<usize>,
    entered: usize,
    left: usize,
    at_risk: u64,
    expected: Sum,
    excess: Sum,
    squares: Sum,
    squares_of_those_gone: Sum,
    mean: Sum,
    poisson: Sum,
    nelson: Option<Sum>,
    own: Sum,
    alone_from: Option<f64>,
}

impl<'a> Watch<'a> {
    fn new(histories: &'a Histories) -> Self {
        let systems = histories.systems();
        let start_of = |place: &usize| systems.get(*place).map_or(0.0, |system| system.start);
        let mut starts: Vec<usize> = (0..systems.len()).collect();
        starts.sort_by(|a, b| start_of(a).total_cmp(&start_of(b)).then(a.cmp(b)));
        let late_starts = systems.iter().any(|system| system.start > 0.0);
        Self {
            histories,
            followed: systems
                .iter()
                .map(|system| Followed {
                    count: system.count as f64,
                    ahead: 0.0,
                    own: 0.0,
                })
                .collect(),
            starts,
            entered: 0,
            left: 0,
            at_risk: 0,
            expected: Sum::default(),
            excess: Sum::default(),
            squares: Sum::default(),
            squares_of_those_gone: Sum::default(),
            mean: Sum::default(),
            poisson: Sum::default(),
            nelson: (!late_starts).then(Sum::default),
            own: Sum::default(),
            alone_from: None,
        }
    }

    /// Lets systems join whose start lies before `age` and leave whose end does.
    fn move_to(&mut self, age: f64) {
        let systems = self.histories.systems();
        let expected = self.expected.total();
        while let Some((place, system)) = self
            .starts
            .get(self.entered)
            .and_then(|place| Some((*place, systems.get(*place)?)))
            .filter(|(_, system)| system.start < age)
        {
            if let Some(followed) = self.followed.get_mut(place) {
                followed.ahead = expected;
            }
            self.at_risk += system.count;
            self.entered += 1;
        }
        // Systems are in order of their ends already.
        while let Some(system) = systems.get(self.left).filter(|system| system.end < age) {
            if let Some(followed) = self.followed.get(self.left) {
                let excess = followed.ahead - expected;
                let square = followed.count * excess * excess;
                self.excess.add(-followed.count * excess);
                self.squares.add(-square);
                self.squares_of_those_gone.add(square);
                self.own.add(-followed.count * followed.own);
            }
            self.at_risk -= system.count;
            self.left += 1;
        }
    }

    /// Takes in the events at one age.
    fn step(
        &mut self,
        age: f64,
        happened: &[Happening],
        limits: &MeanLimits,
        z: f64,
    ) -> MeanCumulativePoint {
        let n = self.at_risk as f64;
        let weighted = |each: &dyn Fn(&Followed, f64) -> f64| {
            happened
                .iter()
                .filter_map(|one| Some((self.followed.get(one.system)?, one.times as f64)))
                .map(|(followed, times)| followed.count * each(followed, times))
                .collect::<Sum>()
                .total()
        };
        let events = weighted(&|_, times| times);
        let spread = weighted(&|_, times| times * times) - events * events / n;
        let with_own =
            weighted(&|followed, times| times * followed.own) - events / n * self.own.total();
        if let Some(nelson) = &mut self.nelson {
            nelson.add(spread.max(0.0) / ((n - 1.0) * n) + 2.0 * with_own / (n - 1.0));
        }
        if self.at_risk < 2 {
            self.nelson = None;
            self.alone_from = self.alone_from.or(Some(age));
        }
        let fall = events / (n * n);
        self.squares.add(-2.0 * fall * self.excess.total());
        self.squares.add(n * fall * fall);
        self.excess.add(-n * fall);
        self.expected.add(fall);
        let expected = self.expected.total();
        let mut tally = 0;
        for one in happened {
            if let Some(followed) = self.followed.get_mut(one.system) {
                let gain = one.times as f64 / n;
                let excess = followed.ahead - expected;
                self.squares
                    .add(followed.count * gain * (2.0 * excess + gain));
                self.excess.add(followed.count * gain);
                self.own.add(followed.count * gain);
                followed.ahead += gain;
                followed.own += gain;
            }
            let count = self.histories.systems().get(one.system);
            tally += one.times * count.map_or(0, |system| system.count);
        }
        self.mean.add(events / n);
        self.poisson.add(fall);
        let robust = self.squares.total() + self.squares_of_those_gone.total();
        let variance_robust = (self.histories.count() > 1).then(|| robust.max(0.0));
        let variance_nelson = self.nelson.map(|sum| sum.total()).filter(|sum| *sum >= 0.0);
        let mean = self.mean.total();
        let chosen = match limits.variance {
            MeanVariance::Robust => variance_robust,
            MeanVariance::Nelson => variance_nelson,
            MeanVariance::Poisson => Some(self.poisson.total()),
        };
        let reach = chosen.map(|variance| z * variance.sqrt());
        let limit = |sign: f64| {
            reach
                .map(|reach| match limits.kind {
                    MeanLimitKind::Log => mean * (sign * reach / mean).exp(),
                    MeanLimitKind::Plain => mean + sign * reach,
                })
                .filter(|limit| limit.is_finite())
        };
        MeanCumulativePoint {
            age,
            at_risk: self.at_risk,
            events: tally,
            mean,
            variance_robust,
            variance_nelson,
            variance_poisson: self.poisson.total(),
            lower: limit(-1.0),
            upper: limit(1.0),
        }
    }

    fn cautions(&self, points: &[MeanCumulativePoint]) -> Vec<Warning> {
        let mut warnings = Vec::new();
        let first_start = self
            .starts
            .first()
            .and_then(|place| self.histories.systems().get(*place))
            .map_or(0.0, |system| system.start);
        if first_start > 0.0 {
            warnings.push(Warning::new(
                WarningCode::EarlyEmptyRiskSet,
                format!("Nobody was watched before age {first_start}; the mean counts events from there on."),
            ));
        }
        let mut reached = first_start;
        for place in &self.starts {
            let Some(system) = self.histories.systems().get(*place) else {
                continue;
            };
            if system.start > reached {
                warnings.push(Warning::new(
                    WarningCode::EarlyEmptyRiskSet,
                    format!("Between ages {reached} and {} nobody was watched; the mean leaves out the events of that stretch.", system.start),
                ));
            }
            reached = reached.max(system.end);
        }
        let several = self.histories.count() > 1;
        if let Some(age) = self.alone_from.filter(|_| several && !points.is_empty()) {
            warnings.push(Warning::new(
                WarningCode::EarlyEmptyRiskSet,
                format!("From age {age} on some events happened while one system alone was watched; they add nothing to the robust variance, so its limits are too narrow there."),
            ));
        }
        warnings
    }
}

impl MeanCumulativeFunction {
    /// The last point at or before an age; none before the first event.
    #[must_use]
    pub fn point_at(&self, age: f64) -> Option<&MeanCumulativePoint> {
        let passed = self.points.partition_point(|point| point.age <= age);
        passed
            .checked_sub(1)
            .and_then(|place| self.points.get(place))
    }

    /// Mean number of events per system up to an age; none beyond the longest age watched.
    #[must_use]
    pub fn mean_at(&self, age: f64) -> Option<f64> {
        (age <= self.longest_age).then(|| self.point_at(age).map_or(0.0, |point| point.mean))
    }
}
