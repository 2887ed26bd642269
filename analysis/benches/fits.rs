//! Weibull fits and limits, beside the cost of the exponentials alone.

mod lives;

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::fit;
use wearbook_analysis::intervals::{Level, Method, Quantity, limits_of_each};
use wearbook_analysis::sample::Sample;
use wearbook_analysis::special::vector::{exp_all, ln_all};

const SHARES: [f64; 3] = [0.01, 0.1, 0.5];

fn weibull(sample: &Sample) {
    black_box(fit(black_box(sample), Family::Weibull).expect("a fit"));
}

fn with_limits(sample: &Sample, family: Family) {
    let fitted = fit(black_box(sample), family).expect("a fit");
    black_box(limits_of_each(
        sample,
        &fitted,
        &SHARES.map(Quantity::Quantile),
        Level::TWO_SIDED_95,
        Method::LikelihoodRatio,
    ));
}

fn pass(c: &mut Criterion, name: &str, lives: usize, all: fn(&mut [f64])) {
    let given: Vec<f64> = lives::ages(lives, 1)
        .iter()
        .map(|life| life.0 / 1000.0)
        .collect();
    let mut room = given.clone();
    c.bench_function(&format!("{name} of {lives}"), |b| {
        b.iter(|| {
            room.copy_from_slice(&given);
            all(black_box(&mut room));
        });
    });
}

fn fits(c: &mut Criterion) {
    for lives in [1_000, 100_000, 1_000_000] {
        pass(c, "limit: exponentials", lives, exp_all);
        pass(c, "limit: logarithms", lives, ln_all);
        let sample = lives::plain(lives, 1);
        c.bench_function(&format!("Weibull fit of {lives}"), |b| {
            b.iter(|| weibull(&sample))
        });
    }
    let groups: Vec<Sample> = (0..1_000).map(|seed| lives::plain(100, seed)).collect();
    c.bench_function("Weibull fits of 1000 groups of 100", |b| {
        b.iter(|| groups.iter().for_each(weibull));
    });
    let sample = lives::plain(1_000, 1);
    for family in Family::ALL {
        c.bench_function(
            &format!("{} fit of 1000 with limits of 3 quantiles", family.code()),
            |b| {
                b.iter(|| with_limits(&sample, family));
            },
        );
    }
    for family in [Family::Lognormal, Family::Loglogistic] {
        c.bench_function(&format!("{} fit of 1000", family.code()), |b| {
            b.iter(|| black_box(fit(black_box(&sample), family).expect("a fit")));
        });
    }
    for (name, sample) in [
        ("late entry", lives::late(1_000, 1)),
        ("between looks", lives::between_looks(1_000, 1, 0.0)),
        (
            "late entry, between looks",
            lives::late_between_looks(1_000, 1),
        ),
    ] {
        c.bench_function(&format!("Weibull fit of 1000, {name}"), |b| {
            b.iter(|| weibull(&sample))
        });
    }
}

criterion_group!(benches, fits);
criterion_main!(benches);
