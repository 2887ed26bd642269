//! Mann's test of the Weibull (Mann, Scheuer and Fertig 1973, Communications in Statistics 2).

use super::GoodnessError;
use crate::observation::Ending;
use crate::sample::Sample;
use crate::special::beta::beta_probability;
use crate::summation::Sum;

/// Result of Mann's test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MannTest {
    /// Mean leap among late failures over that among early ones, each leap in units of what a Weibull expects.
    pub statistic: f64,
    /// Leaps between early failures.
    pub early: u64,
    /// Leaps between late failures.
    pub late: u64,
    /// Chance of a statistic at least as large if the life is Weibull, by the F distribution with `2 late` and
    /// `2 early` degrees. Small when the late failures lag, as with a lognormal or a threshold.
    pub p_value: f64,
}

/// Tests the Weibull by the leaps between the logarithms of successive failures.
///
/// # Errors
/// For failures not known exactly, late entry, or lives that stopped being watched before the last failure; for fewer
/// than three failures; and when all early failures are tied.
pub fn mann_test(sample: &Sample) -> Result<MannTest, GoodnessError> {
    if sample.exact_failures() != sample.failures() || sample.delayed_entry() > 0 {
        return Err(GoodnessError::NotComplete);
    }
    let failures = sample.failures();
    if failures < 3 {
        return Err(GoodnessError::TooFewFailures {
            found: usize::try_from(failures).unwrap_or(0),
            needed: 3,
        });
    }
    let (early, late) = (failures / 2, (failures - 1) / 2);
    let n = sample.lives() as f64;
    // What a Weibull expects of the leap after each order, on the log-hazard scale. The hazard gained keeps its digits
    // where those of two neighbours among very many lives are alike.
    let expected = |order: u64| {
        let hazard = -(-(order as f64 - 0.5) / (n + 0.25)).ln_1p();
        let left = sample.lives().saturating_sub(order) as f64;
        let gained = -(-1.0 / (left + 0.75)).ln_1p();
        (gained / hazard).ln_1p()
    };
    let (mut first, mut second) = (Sum::default(), Sum::default());
    let mut passed: Option<(f64, u64)> = None;
    let mut censored = false;
    for row in sample.observations() {
        if row.ending() != Ending::Exact {
            censored = true;
            continue;
        }
        // A life unfailed at the last failure's usage sorts after it only if it was watched at least as long.
        if censored {
            return Err(GoodnessError::CensoredBetween);
        }
        // Tied failures leap by nothing, so only the steps between different usages count.
        let order = match passed {
            Some((before, order)) if before < row.lower => {
                let leap = (row.lower.ln() - before.ln()) / expected(order);
                if order <= early {
                    first.add(leap);
                } else {
                    second.add(leap);
                }
                order
            }
            Some((_, order)) => order,
            None => 0,
        };
        passed = Some((row.lower, order + row.count));
    }
    let statistic = (early as f64 / late as f64) * (second.total() / first.total());
    if !statistic.is_finite() {
        return Err(GoodnessError::TiedEarlyFailures);
    }
    // F with (2 late, 2 early) degrees above the statistic, as a beta probability.
    let (a, b) = (early as f64, late as f64);
    Ok(MannTest {
        statistic,
        early,
        late,
        p_value: beta_probability(a / (a + b * statistic), a, b),
    })
}
