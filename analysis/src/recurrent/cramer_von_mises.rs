//! Fit of the power-law process by the distance of Cramer and von Mises (Crow 1974; Crow 1990, Proceedings Annual
//! Reliability and Maintainability Symposium).

use super::RecurrentError;
use super::history::Histories;
use super::shape_windows::ln_ratio;
use super::trend_tests::{free_ages, free_events};
use crate::summation::Sum;

/// Distance between the events and the power law, with the values that it exceeds by chance.
#[derive(Clone, Debug, PartialEq)]
pub struct CramerVonMises {
    /// The distance.
    pub statistic: f64,
    /// Events that count: all but those that stopped the watching.
    pub events: u64,
    /// The unbiased shape used.
    pub shape: f64,
    /// Critical values, from the largest significance to the smallest.
    pub critical: Vec<CriticalValue>,
}

/// A distance and the chance with which it is exceeded when the power law holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CriticalValue {
    /// The chance.
    pub significance: f64,
    /// The distance.
    pub value: f64,
}

/// Chances for which critical values are given.
const SIGNIFICANCES: [f64; 5] = [0.2, 0.15, 0.1, 0.05, 0.01];

/// Number of events and critical values at [`SIGNIFICANCES`]. By simulation of 0.4 to 4 million samples each, standard
/// error below 0.0005 (0.002 in the last column); they agree with the three digits of the table of Crow 1974 and
/// MIL-HDBK-189 (from memory). The values do not depend on the true shape.
const CRITICAL: [(f64, [f64; 5]); 16] = [
    (2.0, [0.1373, 0.1487, 0.1612, 0.1747, 0.1863]),
    (3.0, [0.1203, 0.1345, 0.1538, 0.1826, 0.2302]),
    (4.0, [0.1204, 0.1341, 0.1540, 0.1906, 0.2797]),
    (5.0, [0.1210, 0.1368, 0.1595, 0.1993, 0.2964]),
    (6.0, [0.1224, 0.1387, 0.1621, 0.2035, 0.3080]),
    (7.0, [0.1235, 0.1401, 0.1640, 0.2069, 0.3145]),
    (8.0, [0.1242, 0.1411, 0.1656, 0.2092, 0.3186]),
    (9.0, [0.1250, 0.1420, 0.1668, 0.2110, 0.3216]),
    (10.0, [0.1253, 0.1426, 0.1676, 0.2120, 0.3231]),
    (12.0, [0.1260, 0.1434, 0.1688, 0.2137, 0.3262]),
    (15.0, [0.1267, 0.1443, 0.1697, 0.2148, 0.3275]),
    (20.0, [0.1274, 0.1451, 0.1710, 0.2167, 0.3310]),
    (30.0, [0.1282, 0.1461, 0.1720, 0.2184, 0.3331]),
    (60.0, [0.1291, 0.1471, 0.1733, 0.2207, 0.3360]),
    (100.0, [0.1292, 0.1474, 0.1743, 0.2213, 0.3360]),
    (f64::INFINITY, [0.1295, 0.1480, 0.1740, 0.2215, 0.3370]),
];

/// Distance for systems watched from new to one common age, stopped by time or at that event.
///
/// # Errors
/// Without systems or two events that count, or when ends or starts differ (use [`cramer_von_mises_by_ratio`]).
pub fn cramer_von_mises(histories: &Histories) -> Result<CramerVonMises, RecurrentError> {
    free_events(histories)?;
    if let Err(reason) = histories.common_end() {
        return Err(RecurrentError::NoCommonEnd { reason });
    }
    cramer_von_mises_by_ratio(histories)
}

/// Distance for systems watched from new to different ages, from the ratios of age to end.
///
/// Given the numbers of events, these ratios raised to the shape are spread evenly whatever the rate of each system
/// (Crow 1975), so this asks whether one shape fits all, not whether one rate does. With one common end both
/// questions are the same.
///
/// # Errors
/// Without systems or two events that count, when a system joined late, or when every event falls on the end.
pub fn cramer_von_mises_by_ratio(histories: &Histories) -> Result<CramerVonMises, RecurrentError> {
    let events = free_events(histories)?;
    if events < 2 {
        return Err(RecurrentError::TooFewEvents { events, needed: 2 });
    }
    if histories.systems().iter().any(|system| system.start > 0.0) {
        return Err(RecurrentError::NoCommonEnd {
            reason: "some joined late",
        });
    }
    let mut ratios: Vec<(f64, f64)> = free_ages(histories)
        .flat_map(|(_, end, ages, count)| ages.map(move |age| (ln_ratio(age, end), count)))
        .collect();
    ratios.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let total = ratios
        .iter()
        .map(|(ln, count)| -count * ln)
        .collect::<Sum>()
        .total();
    if total <= 0.0 {
        return Err(RecurrentError::AllAtTheEnd);
    }
    let m = events as f64;
    let shape = (m - 1.0) / total;
    if !shape.is_finite() {
        return Err(RecurrentError::OutOfRange);
    }
    let mut distance = Sum::default();
    distance.add(1.0 / (12.0 * m));
    let mut before = 0.0;
    for (ln, count) in ratios {
        // Equal events take ranks in a row: their squared distances from one value are the distance of the middle
        // rank plus the spread of the ranks.
        let middle = (2.0 * before + count) / (2.0 * m);
        let spread = (count - 1.0) * (count + 1.0) / (12.0 * m * m);
        distance.add(count * (((shape * ln).exp() - middle).powi(2) + spread));
        before += count;
    }
    Ok(CramerVonMises {
        statistic: distance.total(),
        events,
        shape,
        critical: critical_values(m),
    })
}

impl CramerVonMises {
    /// The smallest listed significance at which the fit is rejected; none where it is not rejected at any.
    #[must_use]
    pub fn rejected_at(&self) -> Option<f64> {
        self.critical
            .iter()
            .rfind(|critical| self.statistic > critical.value)
            .map(|critical| critical.significance)
    }
}

/// Critical values, linear in one over the number of events between the rows of the table.
fn critical_values(m: f64) -> Vec<CriticalValue> {
    let rows = CRITICAL.iter().zip(CRITICAL.iter().skip(1));
    for ((from, low), (to, high)) in rows {
        if m > *to {
            continue;
        }
        let share = ((1.0 / from - 1.0 / m) / (1.0 / from - 1.0 / to)).clamp(0.0, 1.0);
        return SIGNIFICANCES
            .iter()
            .zip(low.iter().zip(high))
            .map(|(significance, (low, high))| CriticalValue {
                significance: *significance,
                value: low + share * (high - low),
            })
            .collect();
    }
    Vec::new()
}
