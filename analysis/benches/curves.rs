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
    c.bench_function("limit: 1000000 products and sums of quotients", |b| {
        b.iter(|| {
            let (mut product, mut sum) = (1.0, 0.0);
            for left in (1..=1_000_000_u32).rev().map(f64::from) {
                product *= (left - 1.0) / left;
                sum += 1.0 / (left * (left - 0.5));
            }
            black_box((product, sum))
        });
    });
    c.bench_function("sample of 1000000 unsorted lives", |b| {
        b.iter_with_large_drop(|| Sample::from_ages(lives.iter().copied()).expect("valid lives"));
    });
    c.bench_function("Kaplan-Meier of 1000000 sorted lives", |b| {
        b.iter_with_large_drop(|| kaplan_meier(&sample, Limits::default()).expect("a curve"));
    });
    c.bench_function("all points of that curve with limits", |b| {
        b.iter(|| {
            let sum = |point: CurvePoint| point.lower.unwrap_or(0.0) + point.upper.unwrap_or(0.0);
            curve.points().map(sum).sum::<f64>()
        });
    });
    c.bench_function("survival at a usage of that curve", |b| {
        b.iter(|| black_box(&curve).survival_at(black_box(900.0)));
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
