//! Ranks, their limits and the lines through them: in order, inside 0 to 1, finite.
#![no_main]

#[path = "support/lives.rs"]
mod lives;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::families::Family;
use wearbook_analysis::plot::{MOST_POINTS, probability_plot};
use wearbook_analysis::ranks::{
    Direction, Positions, adjusted_ranks, benard, beta_binomial_bounds, median_rank, paper,
    rank_quantile, rank_regression,
};

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let family = *u.choose(&Family::ALL)?;
    let positions = *u.choose(&[Positions::Exact, Positions::Benard])?;
    let direction = *u.choose(&[Direction::YOnX, Direction::XOnY])?;
    let level = *u.choose(&[0.1, 0.9, 0.999, 1.0])?;
    let (rank, share) = (
        f64::from_bits(u.arbitrary()?),
        f64::from_bits(u.arbitrary()?),
    );
    let of = u.arbitrary()?;
    for got in [
        benard(rank, of),
        median_rank(rank, of),
        rank_quantile(rank, of, share),
    ]
    .into_iter()
    .flatten()
    {
        assert!((0.0..=1.0).contains(&got));
    }
    if let Ok((x, y)) = paper(family, rank, share) {
        assert!(x.is_finite() && y.is_finite());
    }
    let sample = lives::sample(&mut u, 24)?;
    if let Ok(ranked) = adjusted_ranks(&sample) {
        let mut before = 0.0;
        for group in ranked {
            assert!(group.first > before && group.step > 0.0);
            before = group.last();
            assert!(before <= sample.lives() as f64 * (1.0 + 1e-9));
        }
    }
    if let Ok(bounds) = beta_binomial_bounds(&sample, level) {
        for point in bounds {
            assert!(0.0 <= point.lower && point.lower <= point.share);
            assert!(point.share <= point.upper && point.upper <= 1.0);
        }
    }
    if let Ok(line) = rank_regression(&sample, family, positions, direction) {
        assert!(line.parameters.iter().all(|value| value.is_finite()));
        assert!((-1.0..=1.0).contains(&line.correlation));
    }
    let plot = probability_plot(&sample, family);
    assert!(plot.len() as u64 <= MOST_POINTS);
    for point in plot {
        assert!(
            [
                point.time,
                point.adjusted_rank,
                point.failed,
                point.x,
                point.y
            ]
            .iter()
            .all(|number| number.is_finite())
        );
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
