//! Models chosen, with limits, for ten thousand groups on one and on two threads.

mod lives;

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use rayon::ThreadPoolBuilder;
use wearbook_analysis::families::Family;
use wearbook_analysis::groups::{choose_groups, fit_groups};
use wearbook_analysis::intervals::Level;
use wearbook_analysis::sample::Sample;

fn groups(c: &mut Criterion) {
    let samples: Vec<Sample> = (0..10_000).map(|seed| lives::plain(100, seed)).collect();
    for threads in [1, 2] {
        let pool = ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool");
        c.bench_function(
            &format!("10000 groups of 100, Weibull, {threads} threads"),
            |b| {
                b.iter(|| pool.install(|| black_box(fit_groups(&samples, Family::Weibull))));
            },
        );
        c.bench_function(
            &format!("10000 groups of 100, chosen with limits, {threads} threads"),
            |b| {
                b.iter(|| {
                    pool.install(|| {
                        black_box(choose_groups(
                            &samples,
                            &Family::ALL,
                            &[0.01, 0.1, 0.5],
                            Level::TWO_SIDED_95,
                        ))
                    })
                });
            },
        );
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = groups
}
criterion_main!(benches);
