//! How often limits by each method hold the truth, by simulation.
//!
//! `cargo run --release -p wearbook-analysis --example coverage -- [--replicates N] [--bootstrap N] [--resamples N]
//! [--seed N] [--failures N] [--quick] [--cells]` prints the tables of docs/coverage.md; with `--cells` every cell too.

#![expect(
    clippy::indexing_slicing,
    reason = "tables of fixed size, indexed by their own ranges"
)]

mod design;
mod study;
mod table;

use design::{Design, Watching};
use study::{Counts, study};

/// What is to be run.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Samples per design.
    pub replicates: u32,
    /// Samples per design for the bootstrap, which costs most.
    pub bootstrap: u32,
    /// Samples drawn per bootstrap.
    pub resamples: u32,
    /// Seed of the random numbers.
    pub seed: u64,
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |name: &str| -> Option<u64> {
        let place = words.iter().position(|word| word == name)?;
        words.get(place + 1)?.parse().ok()
    };
    let small = |name: &str, usual: u32| -> u32 {
        number(name)
            .and_then(|number| u32::try_from(number).ok())
            .unwrap_or(usual)
    };
    let quick = words.iter().any(|word| word == "--quick");
    let plan = Plan {
        replicates: small("--replicates", if quick { 400 } else { 5_000 }),
        bootstrap: small("--bootstrap", if quick { 40 } else { 400 }),
        resamples: small("--resamples", 199),
        seed: number("--seed").unwrap_or(1),
    };
    let only = number("--failures");
    let designs: Vec<Design> = Design::all()
        .into_iter()
        .filter(|design| only.is_none_or(|only| only == design.failures))
        .filter(|design| !quick || design.shape == 1.5)
        .collect();
    let mut all: Vec<(Design, Counts)> = Vec::new();
    let mut seen: Vec<(Design, Counts)> = Vec::new();
    for (place, design) in designs.into_iter().enumerate() {
        let with_bootstrap = design.shape == 1.5
            && design.failures <= 10
            && !design.late
            && !design.looks
            && matches!(design.watching, Watching::ToFailure | Watching::FixedUsage);
        let plan = Plan {
            seed: plan.seed + place as u64,
            bootstrap: if with_bootstrap { plan.bootstrap } else { 0 },
            ..plan
        };
        let tally = study(&design, &plan);
        all.push((design, tally.all));
        seen.push((design, tally.seen));
    }
    let every_cell = words.iter().any(|word| word == "--cells");
    table::print(&all, &seen, &plan, every_cell);
}
