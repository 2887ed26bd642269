//! Curves without a family, beside the cost of sorting the lives and of writing the points.

mod lives;

use std::hint::black_box;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use wearbook_analysis::nonparametric::{CurvePoint, Limits, kaplan_meier, turnbull};
use wearbook_analysis::sample::Sample;

fn product_limit(c: &mut Criterion) {
    let lives = lives::ages(1_000_000, 3);
    c.bench_function("limit: sort of 1000000 usages", |b| {
        let usages: Vec<f64> = lives.iter().map(|life| life.0).collect();
        b.iter_batched_ref(
            || usages.clone(),
            |usages| usages.sort_unstable_by(f64::total_cmp),
            BatchSize::LargeInput,
        );
    });
    let sample = Sample::from_ages(lives.iter().copied()).expect("valid lives");
    let curve = kaplan_meier(&sample, Limits::default()).expect("a curve");
    c.bench_function("limit: a copy of the 1000000 points", |b| {
        b.iter_with_large_drop(|| -> Vec<CurvePoint> { black_box(&curve.points).clone() });
    });
    c.bench_function("sample of 1000000 unsorted lives", |b| {
        b.iter_with_large_drop(|| Sample::from_ages(lives.iter().copied()).expect("valid lives"));
    });
    c.bench_function("Kaplan-Meier of 1000000 sorted lives", |b| {
        b.iter_with_large_drop(|| kaplan_meier(&sample, Limits::default()).expect("a curve"));
    });
    c.bench_function("Kaplan-Meier of 1000000 unsorted lives", |b| {
        b.iter_with_large_drop(|| {
            let sample = Sample::from_ages(lives.iter().copied()).expect("valid lives");
            kaplan_meier(&sample, Limits::default()).expect("a curve")
        });
    });
}

fn intervals(c: &mut Criterion) {
    for (name, sample) in [
        ("between looks", lives::between_looks(10_000, 5, 0.0)),
        ("half exact", lives::between_looks(10_000, 5, 0.5)),
        (
            "between looks with late entry",
            lives::late_between_looks(10_000, 5),
        ),
    ] {
        c.bench_function(&format!("Turnbull of 10000, {name}"), |b| {
            b.iter(|| black_box(turnbull(&sample).expect("a curve")));
        });
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = product_limit, intervals
}
criterion_main!(benches);
