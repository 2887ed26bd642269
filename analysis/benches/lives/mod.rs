//! Lives by a seeded generator.

#![allow(dead_code, reason = "every bench takes what it needs")]

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

/// A uniform number strictly inside 0 to 1.
pub fn uniform(random: &mut ChaCha8Rng) -> f64 {
    random.random_range(1e-12..1.0)
}

pub fn seeded(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// Weibull lives of shape 2.2 and scale 1000; about 30 % still run. Not sorted.
pub fn ages(lives: usize, seed: u64) -> Vec<(f64, bool)> {
    let mut random = seeded(seed);
    let mut life = |scale: f64| scale * (-uniform(&mut random).ln()).powf(1.0 / 2.2);
    (0..lives)
        .map(|_| {
            let (failure, stop) = (life(1000.0), life(1450.0));
            (failure.min(stop), failure <= stop)
        })
        .collect()
}

pub fn plain(lives: usize, seed: u64) -> Sample {
    Sample::from_ages(ages(lives, seed)).expect("valid lives")
}

fn ended((age, failed): (f64, bool)) -> Observation {
    if failed {
        Observation::exact(age)
    } else {
        Observation::right_censored(age)
    }
}

/// The same lives, each watched from some share of its age on.
pub fn late(lives: usize, seed: u64) -> Sample {
    let mut random = seeded(seed + 1);
    let rows = ages(lives, seed).into_iter().map(|life| {
        let entry = life.0 * uniform(&mut random);
        ended(life).entered_at(entry)
    });
    Sample::new(rows).expect("valid lives")
}

/// The same lives, each failure known only to lie between two looks at random; a share of them known exactly.
pub fn between_looks(lives: usize, seed: u64, exact: f64) -> Sample {
    let mut random = seeded(seed + 1);
    let rows = ages(lives, seed).into_iter().map(|(age, failed)| {
        let (before, after) = (300.0 * uniform(&mut random), 300.0 * uniform(&mut random));
        if !failed || uniform(&mut random) < exact {
            ended((age, failed))
        } else if before < age {
            Observation::interval(age - before, age + after)
        } else {
            Observation::left_censored(age + after)
        }
    });
    Sample::new(rows).expect("valid lives")
}

/// The same with late entry.
pub fn late_between_looks(lives: usize, seed: u64) -> Sample {
    let mut random = seeded(seed + 2);
    let rows = between_looks(lives, seed, 0.0);
    let rows = rows.observations().map(|life| {
        let entry = 0.5 * life.lower * uniform(&mut random);
        Observation::from(life).entered_at(entry)
    });
    Sample::new(rows).expect("valid lives")
}
