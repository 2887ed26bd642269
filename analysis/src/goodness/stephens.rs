//! Forms of the distances whose distribution hardly depends on the size of the sample, with their upper points
//! (Stephens 1974, JASA 69; 1977, Biometrika 64; 1979, Biometrika 66; D'Agostino and Stephens 1986, chapter 4).
//!
//! All hold for parameters fitted to the same complete sample. Written down from memory and held against simulation
//! by the tests.

use crate::families::Family;

/// Which distance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Statistic {
    AndersonDarling,
    CramerVonMises,
    Kolmogorov,
}

/// The starred form; none where none was published.
pub(super) fn starred(family: Family, statistic: Statistic, value: f64, n: f64) -> Option<f64> {
    let root = n.sqrt();
    match (family, statistic) {
        (Family::Weibull, Statistic::AndersonDarling | Statistic::CramerVonMises) => {
            Some(value * (1.0 + 0.2 / root))
        }
        (Family::Lognormal, Statistic::AndersonDarling) => {
            Some(value * (1.0 + 0.75 / n + 2.25 / (n * n)))
        }
        (Family::Lognormal, Statistic::CramerVonMises) => Some(value * (1.0 + 0.5 / n)),
        (Family::Lognormal, Statistic::Kolmogorov) => Some(value * (root - 0.01 + 0.85 / root)),
        (Family::Exponential, Statistic::AndersonDarling) => Some(value * (1.0 + 0.6 / n)),
        (Family::Exponential, Statistic::CramerVonMises) => Some(value * (1.0 + 0.16 / n)),
        (Family::Exponential, Statistic::Kolmogorov) => {
            Some((value - 0.2 / n) * (root + 0.26 + 0.5 / root))
        }
        (Family::Loglogistic, Statistic::AndersonDarling) => Some(value * (1.0 + 0.25 / n)),
        (Family::Loglogistic, Statistic::CramerVonMises) if n > 1.0 => {
            Some((n * value - 0.08) / (n - 1.0))
        }
        _ => None,
    }
}

/// Shares of samples and the starred values that they exceed, largest share first.
pub(super) fn upper_points(family: Family, statistic: Statistic) -> &'static [(f64, f64)] {
    match (family, statistic) {
        (Family::Weibull, Statistic::AndersonDarling) => &[
            (0.25, 0.474),
            (0.10, 0.637),
            (0.05, 0.757),
            (0.025, 0.877),
            (0.01, 1.038),
        ],
        (Family::Weibull, Statistic::CramerVonMises) => &[
            (0.25, 0.073),
            (0.10, 0.102),
            (0.05, 0.124),
            (0.025, 0.146),
            (0.01, 0.175),
        ],
        (Family::Lognormal, Statistic::AndersonDarling) => {
            &[(0.10, 0.631), (0.05, 0.752), (0.025, 0.873), (0.01, 1.035)]
        }
        (Family::Lognormal, Statistic::CramerVonMises) => {
            &[(0.10, 0.104), (0.05, 0.126), (0.025, 0.148), (0.01, 0.179)]
        }
        (Family::Lognormal, Statistic::Kolmogorov) => {
            &[(0.10, 0.819), (0.05, 0.895), (0.025, 0.955), (0.01, 1.035)]
        }
        (Family::Exponential, Statistic::AndersonDarling) => {
            &[(0.10, 1.062), (0.05, 1.321), (0.025, 1.591), (0.01, 1.959)]
        }
        (Family::Exponential, Statistic::CramerVonMises) => {
            &[(0.10, 0.175), (0.05, 0.222), (0.025, 0.271), (0.01, 0.338)]
        }
        (Family::Exponential, Statistic::Kolmogorov) => {
            &[(0.10, 0.995), (0.05, 1.094), (0.025, 1.184), (0.01, 1.298)]
        }
        (Family::Loglogistic, Statistic::AndersonDarling) => &[
            (0.25, 0.426),
            (0.10, 0.563),
            (0.05, 0.660),
            (0.025, 0.769),
            (0.01, 0.906),
        ],
        (Family::Loglogistic, Statistic::CramerVonMises) => &[
            (0.25, 0.060),
            (0.10, 0.081),
            (0.05, 0.098),
            (0.025, 0.114),
            (0.01, 0.136),
        ],
        _ => &[],
    }
}
