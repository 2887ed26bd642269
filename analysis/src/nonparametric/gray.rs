//! Gray's comparison of cumulative incidence between groups (Gray 1988, Annals of Statistics 16, 1141-1154).

use super::EstimateError;
use super::log_rank::{LogRankGroup, groups_in};
use super::quadratic::quadratic;
use super::watch::Watch;
use super::weights::check_power;
use crate::observation::Ending;
use crate::sample::Sample;
use crate::special::gamma::chi_square_upper;
use crate::summation::Sum;

/// Result of Gray's test for one cause.
#[derive(Clone, Debug, PartialEq)]
pub struct GrayTest {
    /// The cause compared; none for failures without one.
    pub cause: Option<String>,
    /// Power of the pooled complement of incidence used as weight.
    pub rho: f64,
    /// Weighted failures of the cause, observed and expected, in the order of the groups given.
    pub groups: Vec<LogRankGroup>,
    /// Covariance of observed minus expected.
    pub covariance: Vec<Vec<f64>>,
    /// Test statistic.
    pub chi_square: f64,
    /// Degrees of freedom: groups that could be compared, less one.
    pub freedom: u32,
    /// Chance of a statistic at least as large if the incidences are alike.
    pub p_value: f64,
}

/// Compares the cumulative incidence of one cause between two or more groups. Weights are
/// `(1 - F)^rho` with the pooled incidence just before each usage; the comparison ends where that reaches 1.
///
/// # Errors
/// As [`gray_test_stratified`].
pub fn gray_test(
    groups: &[&Sample],
    cause: Option<&str>,
    rho: f64,
) -> Result<GrayTest, EstimateError> {
    gray_test_stratified(&[groups.to_vec()], cause, rho)
}

/// Compares groups within strata; every stratum lists the same groups in the same order, empty ones included.
///
/// # Errors
/// For fewer than two groups, uneven strata, failures not known exactly, lives that entered late (the test is not
/// derived for them), a power that is negative or not finite, or no failure of the cause while two groups were at
/// risk.
pub fn gray_test_stratified(
    strata: &[Vec<&Sample>],
    cause: Option<&str>,
    rho: f64,
) -> Result<GrayTest, EstimateError> {
    let size = groups_in(strata)?;
    check_power(rho)?;
    for sample in strata.iter().flatten() {
        let inexact = sample.left_censored() + sample.interval_censored();
        if inexact > 0 {
            return Err(EstimateError::InexactFailures { lives: inexact });
        }
        if sample.delayed_entry() > 0 {
            return Err(EstimateError::LateEntries {
                lives: sample.delayed_entry(),
            });
        }
    }
    let mut totals = Totals {
        groups: vec![(Sum::default(), Sum::default()); size],
        covariance: vec![vec![Sum::default(); size]; size],
    };
    for groups in strata {
        Stratum::new(size, rho).run(groups, cause, &mut totals);
    }
    let covariance: Vec<Vec<f64>> = totals
        .covariance
        .iter()
        .map(|cells| cells.iter().map(Sum::total).collect())
        .collect();
    let groups: Vec<LogRankGroup> = totals
        .groups
        .iter()
        .map(|(observed, expected)| LogRankGroup {
            observed: observed.total(),
            expected: expected.total(),
        })
        .collect();
    let gaps: Vec<f64> = groups
        .iter()
        .map(|group| group.observed - group.expected)
        .collect();
    let (chi_square, freedom) = quadratic(&covariance, &gaps);
    if freedom == 0 {
        return Err(EstimateError::NothingToCompare);
    }
    Ok(GrayTest {
        cause: cause.map(str::to_owned),
        rho,
        groups,
        covariance,
        chi_square,
        freedom,
        p_value: chi_square_upper(chi_square, f64::from(freedom)),
    })
}

struct Totals {
    groups: Vec<(Sum, Sum)>,
    covariance: Vec<Vec<Sum>>,
}

/// One usage at which somebody of one group failed.
struct Event {
    time: f64,
    group: usize,
    of_cause: u64,
    other: u64,
}

/// One group at one usage. `before` is just before the usage, `after` just after it.
#[derive(Clone, Debug)]
struct Member {
    survival: f64,
    /// Share that failed of another cause: with survival, the complement of the incidence, to its last digits.
    elsewhere: Sum,
    at_risk: f64,
    of_cause: f64,
    other: f64,
    /// Column of the influence of this group's failures on every group's score.
    influence: Vec<Sum>,
    /// Sums of the variance that go with that column once, and not at all.
    single: Vec<Sum>,
    plain: Sum,
}

struct Stratum {
    rho: f64,
    /// Pooled incidence before the usage.
    pooled: Sum,
    members: Vec<Member>,
}

impl Stratum {
    fn new(size: usize, rho: f64) -> Self {
        let member = Member {
            survival: 1.0,
            elsewhere: Sum::default(),
            at_risk: 0.0,
            of_cause: 0.0,
            other: 0.0,
            influence: vec![Sum::default(); size],
            single: vec![Sum::default(); size],
            plain: Sum::default(),
        };
        Self {
            rho,
            pooled: Sum::default(),
            members: vec![member; size],
        }
    }

    fn run(mut self, groups: &[&Sample], cause: Option<&str>, totals: &mut Totals) {
        let events = events(groups, cause);
        let mut watches: Vec<Watch> = groups.iter().map(|sample| Watch::new(sample)).collect();
        for tied in events.chunk_by(|a, b| a.time >= b.time) {
            let Some(time) = tied.first().map(|event| event.time) else {
                continue;
            };
            for (member, watch) in self.members.iter_mut().zip(&mut watches) {
                member.at_risk = watch.at(time) as f64;
                (member.of_cause, member.other) = (0.0, 0.0);
            }
            for event in tied {
                if let Some(member) = self.members.get_mut(event.group) {
                    member.of_cause += event.of_cause as f64;
                    member.other += event.other as f64;
                }
            }
            self.step(totals);
        }
        self.close(totals);
    }

    fn step(&mut self, totals: &mut Totals) {
        let watched = |member: &&Member| member.at_risk > 0.0;
        let share = |member: &Member| member.at_risk / member.survival;
        let failed = self.members.iter().map(|m| m.of_cause).sum::<f64>();
        let alive = self.members.iter().filter(watched).map(share);
        let alive = alive.collect::<Sum>().total();
        let open =
            |member: &Member| share(member) * (member.survival + member.elsewhere.total()).min(1.0);
        let exposed = self.members.iter().filter(watched).map(open);
        let exposed = exposed.collect::<Sum>().total();
        let rest = 1.0 - self.pooled.total();
        // What rounding may leave of nothing is nothing.
        if rest <= 4.0 * f64::EPSILON {
            return;
        }
        let weight = rest.powf(self.rho);
        self.pooled.add(failed / alive);
        let rest_after = 1.0 - self.pooled.total();

        if failed > 0.0 {
            for (member, (observed, expected)) in self.members.iter().zip(&mut totals.groups) {
                observed.add(weight * member.of_cause);
                if member.at_risk > 0.0 {
                    expected.add(weight * failed * open(member) / exposed);
                }
            }
        }
        let shares: Vec<f64> = self
            .members
            .iter()
            .map(|m| if m.at_risk > 0.0 { share(m) } else { 0.0 })
            .collect();
        let whole = Pool {
            failed,
            alive,
            rest,
            rest_after,
            weight,
        };
        for (place, member) in self.members.iter_mut().enumerate() {
            if member.at_risk > 0.0 {
                member.step(place, &shares, &whole, &mut totals.covariance);
            }
        }
    }

    fn close(&self, totals: &mut Totals) {
        for member in &self.members {
            let influence: Vec<f64> = member.influence.iter().map(Sum::total).collect();
            let single: Vec<f64> = member.single.iter().map(Sum::total).collect();
            let plain = member.plain.total();
            for (cells, (own, own_single)) in totals
                .covariance
                .iter_mut()
                .zip(influence.iter().zip(&single))
            {
                for (cell, (other, other_single)) in
                    cells.iter_mut().zip(influence.iter().zip(&single))
                {
                    cell.add(own * other * plain);
                    cell.add(own * other_single + other * own_single);
                }
            }
        }
    }
}

/// All groups of a stratum at one usage.
struct Pool {
    failed: f64,
    /// Lives at risk, each over the survival of its group.
    alive: f64,
    /// Complement of the pooled incidence before and after the usage.
    rest: f64,
    rest_after: f64,
    weight: f64,
}

impl Member {
    fn step(&mut self, place: usize, shares: &[f64], pool: &Pool, covariance: &mut [Vec<Sum>]) {
        let own = self.at_risk / self.survival;
        let reach: Vec<f64> = shares
            .iter()
            .enumerate()
            .map(|(i, share)| {
                if i == place {
                    pool.weight * own * (1.0 - own / pool.alive)
                } else {
                    -pool.weight * own * share / pool.alive
                }
            })
            .collect();
        for (sum, part) in self.influence.iter_mut().zip(&reach) {
            sum.add(part * pool.failed / (pool.alive * pool.rest));
        }
        let failing = self.of_cause + self.other;
        let after = self.survival * ((self.at_risk - failing) / self.at_risk);
        let influence: Vec<f64> = self.influence.iter().map(Sum::total).collect();

        if pool.failed > 0.0 {
            let lost = if after > 0.0 {
                1.0 - pool.rest_after / after
            } else {
                1.0
            };
            let tied = tie_factor(pool.alive * self.survival, pool.failed);
            let size = tied * self.survival * pool.failed / (pool.alive * self.at_risk);
            let parts = reach
                .iter()
                .zip(&influence)
                .map(|(reach, influence)| reach - lost * influence);
            self.add(&parts.collect::<Vec<_>>(), lost, size, covariance);
        }
        if self.other > 0.0 && after > 0.0 {
            let lost = pool.rest_after / after;
            let tied = tie_factor(self.at_risk, self.other);
            let size = tied * (self.survival / self.at_risk).powi(2) * self.other;
            let parts = influence.iter().map(|influence| -lost * influence);
            self.add(&parts.collect::<Vec<_>>(), lost, size, covariance);
        }
        self.elsewhere
            .add(self.survival * self.other / self.at_risk);
        self.survival = after;
    }

    /// Adds `size (part + lost c)(part + lost c)'` but for the column `c`, which is known only at the end.
    fn add(&mut self, parts: &[f64], lost: f64, size: f64, covariance: &mut [Vec<Sum>]) {
        self.plain.add(lost * lost * size);
        for (sum, part) in self.single.iter_mut().zip(parts) {
            sum.add(part * lost * size);
        }
        for (cells, part) in covariance.iter_mut().zip(parts) {
            for (cell, other) in cells.iter_mut().zip(parts) {
                cell.add(part * other * size);
            }
        }
    }
}

/// Variance of tied failures over that of separate ones, never below 0.
fn tie_factor(at_risk: f64, failed: f64) -> f64 {
    if failed <= 1.0 {
        1.0
    } else if failed < at_risk {
        1.0 - (failed - 1.0) / (at_risk - 1.0)
    } else {
        0.0
    }
}

fn events(groups: &[&Sample], cause: Option<&str>) -> Vec<Event> {
    let mut events: Vec<Event> = Vec::new();
    for (group, sample) in groups.iter().enumerate() {
        for row in sample.observations() {
            if row.ending() != Ending::Exact {
                continue;
            }
            let (of_cause, other) = if row.cause == cause {
                (row.count, 0)
            } else {
                (0, row.count)
            };
            events.push(Event {
                time: row.lower,
                group,
                of_cause,
                other,
            });
        }
    }
    events.sort_unstable_by(|a, b| {
        a.time
            .total_cmp(&b.time)
            .then(a.group.cmp(&b.group))
            .then(a.of_cause.cmp(&b.of_cause))
            .then(a.other.cmp(&b.other))
    });
    events
}
