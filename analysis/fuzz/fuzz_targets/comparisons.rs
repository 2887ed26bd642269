//! Comparisons of groups: finite statistics, chances inside 0 to 1, expected failures that add up to those observed.
#![no_main]

#[path = "support/lives.rs"]
mod lives;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::nonparametric::{Weights, weighted_log_rank};
use wearbook_analysis::sample::Sample;

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let powers = [0.0, 0.5, 1.0, 3.0, f64::from_bits(u.arbitrary()?)];
    let weights = match u.int_in_range(0..=4_u8)? {
        0 => Weights::LogRank,
        1 => Weights::Gehan,
        2 => Weights::TaroneWare,
        3 => Weights::PetoPeto,
        _ => Weights::FlemingHarrington {
            rho: *u.choose(&powers)?,
            gamma: *u.choose(&powers)?,
        },
    };
    let (strata, size) = (u.int_in_range(0..=3_usize)?, u.int_in_range(0..=4_usize)?);
    let mut samples: Vec<Vec<Sample>> = Vec::new();
    for _ in 0..strata {
        let groups = (0..size).map(|_| lives::sample(&mut u, 8));
        samples.push(groups.collect::<Result<_>>()?);
    }
    let borrowed: Vec<Vec<&Sample>> = samples
        .iter()
        .map(|groups| groups.iter().collect())
        .collect();
    if let Ok(test) = weighted_log_rank(&borrowed, weights) {
        assert!(test.chi_square.is_finite() && test.chi_square >= 0.0);
        assert!((0.0..=1.0).contains(&test.p_value));
        assert!(test.freedom >= 1 && (test.freedom as usize) < size);
        assert!(
            test.covariance
                .iter()
                .flatten()
                .all(|cell| cell.is_finite())
        );
        let sum = |read: fn(&wearbook_analysis::nonparametric::LogRankGroup) -> f64| {
            test.groups.iter().map(read).sum::<f64>()
        };
        let (observed, expected) = (sum(|group| group.observed), sum(|group| group.expected));
        assert!((observed - expected).abs() <= 1e-9 * (1.0 + observed));
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
