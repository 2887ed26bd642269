//! Counts of limits that hold the truth.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rayon::prelude::*;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{Fit, fit};
use wearbook_analysis::intervals::{Method, Quantity, Resampling, confidence_below};
use wearbook_analysis::sample::Sample;

use crate::Plan;
use crate::design::Design;

/// The methods compared, in the order of the tables; the last is the bootstrap.
pub const METHODS: [&str; 4] = ["delta", "likelihood ratio", "modified root", "bootstrap"];
/// What is limited, in the order of the tables.
pub const QUANTITIES: [&str; 3] = ["B10", "S(t)", "shape"];
/// Sides and levels, in the order of the tables.
pub const LIMITS: [(&str, f64); 4] = [
    ("lower", 0.9),
    ("lower", 0.95),
    ("upper", 0.9),
    ("upper", 0.95),
];

/// How often limits held, by method, quantity and limit.
#[derive(Clone, Debug, Default)]
pub struct Counts {
    /// Samples drawn.
    pub drawn: u64,
    /// Samples without an estimate.
    pub without_estimate: u64,
    /// Limits that held, and limits asked for.
    pub held: [[[u64; 4]; 3]; 4],
    /// Limits asked for and computed.
    pub asked: [[u64; 3]; 4],
    /// Limits that could not be computed.
    pub failed: [[u64; 3]; 4],
}

impl Counts {
    fn add(mut self, other: Self) -> Self {
        self.drawn += other.drawn;
        self.without_estimate += other.without_estimate;
        for method in 0..4 {
            for quantity in 0..3 {
                for limit in 0..4 {
                    self.held[method][quantity][limit] += other.held[method][quantity][limit];
                }
                self.asked[method][quantity] += other.asked[method][quantity];
                self.failed[method][quantity] += other.failed[method][quantity];
            }
        }
        self
    }

    /// Share of limits that held; none where none was asked for.
    pub fn coverage(&self, method: usize, quantity: usize, limit: usize) -> Option<f64> {
        let asked = self.asked[method][quantity];
        (asked > 0).then(|| self.held[method][quantity][limit] as f64 / asked as f64)
    }
}

/// The failures from which on samples are counted a second time.
pub const FEWEST: u64 = 5;

/// Counts of one design.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Of all samples.
    pub all: Counts,
    /// Of the samples in which at least [`FEWEST`] failures were seen.
    pub seen: Counts,
}

impl Tally {
    fn of(sample: &Sample, counts: Counts) -> Self {
        let seen = if sample.failures() < FEWEST {
            Counts::default()
        } else {
            counts.clone()
        };
        Self { all: counts, seen }
    }

    fn add(self, other: Self) -> Self {
        Self {
            all: self.all.add(other.all),
            seen: self.seen.add(other.seen),
        }
    }
}

/// Simulates one design.
pub fn study(design: &Design, plan: &Plan) -> Tally {
    (0..plan.replicates)
        .into_par_iter()
        .map(|replicate| {
            let mut random = ChaCha8Rng::seed_from_u64(plan.seed);
            random.set_stream(u64::from(replicate));
            let sample = design.sample(&mut random);
            let counts = one(design, plan, replicate, &sample);
            Tally::of(&sample, counts)
        })
        .reduce(Tally::default, Tally::add)
}

fn one(design: &Design, plan: &Plan, replicate: u32, sample: &Sample) -> Counts {
    let mut counts = Counts {
        drawn: 1,
        ..Counts::default()
    };
    let Ok(fitted) = fit(sample, Family::Weibull) else {
        counts.without_estimate = 1;
        return counts;
    };
    let bootstrap = Method::Bootstrap(Resampling {
        seed: u64::from(replicate),
        resamples: plan.resamples,
    });
    let methods = [
        Method::Delta,
        Method::LikelihoodRatio,
        Method::ModifiedRoot,
        bootstrap,
    ];
    for (place, method) in methods.into_iter().enumerate() {
        if method == bootstrap && replicate >= plan.bootstrap {
            continue;
        }
        let truths = [
            (
                Quantity::Quantile(0.1),
                design.tenth(),
                fitted.quantile(0.1),
            ),
            (
                Quantity::Survival(design.tenth()),
                0.9,
                Some(fitted.survival(design.tenth())),
            ),
            (
                Quantity::Parameter("shape"),
                design.shape,
                fitted.parameter("shape"),
            ),
        ];
        for (quantity, (asked, truth, estimate)) in truths.into_iter().enumerate() {
            let below = below(sample, &fitted, asked, truth, method);
            let Some((below, estimate)) = below.zip(estimate) else {
                counts.failed[place][quantity] += 1;
                continue;
            };
            counts.asked[place][quantity] += 1;
            for (limit, (side, level)) in LIMITS.into_iter().enumerate() {
                // A limit is never on the wrong side of the estimate.
                let held = if side == "lower" {
                    below >= 1.0 - level || truth >= estimate
                } else {
                    below <= level || truth <= estimate
                };
                counts.held[place][quantity][limit] += u64::from(held);
            }
        }
    }
    counts
}

fn below(
    sample: &Sample,
    fitted: &Fit,
    asked: Quantity,
    truth: f64,
    method: Method,
) -> Option<f64> {
    // By construction the two see the usage and the share of one point on the same profile.
    confidence_below(sample, fitted, asked, truth, method).ok()
}
