//! Usage scales: weights that sum to one, a mixing weight inside its limits inside 0 to 1.
#![no_main]

#[path = "support/rows.rs"]
mod rows;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::usage_scale::{ScaledLife, ScaledLives, compare_scales, mixed_scale};

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let family = rows::family(&mut u)?;
    let mut lives = Vec::new();
    for _ in 0..u.int_in_range(0..=8_usize)? {
        let life = rows::life(&mut u)?;
        let rate = rows::number(&mut u)?;
        let other = if u.ratio(1_u8, 20)? {
            rows::life(&mut u)?
        } else {
            Observation {
                entry: life.entry * rate,
                lower: life.lower * rate,
                upper: life.upper * rate,
                ..life.clone()
            }
        };
        lives.push(ScaledLife {
            on: vec![life, other],
        });
    }
    let Ok(lives) = ScaledLives::new(["flights", "minutes"], lives) else {
        return Ok(());
    };
    if let Ok(comparison) = compare_scales(&lives, "minutes", family) {
        let weights: f64 = comparison
            .scales
            .iter()
            .filter_map(|scale| scale.weight)
            .sum();
        assert!((weights - 1.0).abs() < 1e-9);
        for scale in &comparison.scales {
            assert!(
                scale
                    .difference
                    .is_none_or(|gap| gap >= 0.0 && gap.is_finite())
            );
            assert!(
                scale
                    .variation
                    .is_none_or(|variation| variation.is_finite())
            );
        }
    }
    if let Ok(mixed) = mixed_scale(&lives, ["flights", "minutes"], family, Level::TWO_SIDED_90) {
        let [low, high] = mixed.limits;
        assert!(0.0 <= low && low <= mixed.weight && mixed.weight <= high && high <= 1.0);
        assert!(mixed.log_likelihood.is_finite());
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
