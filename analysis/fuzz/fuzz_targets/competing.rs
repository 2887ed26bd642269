//! Competing modes: incidences that add up, shares that sum to one, quantiles that meet their share.
#![no_main]

#[path = "support/rows.rs"]
mod rows;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::competing::{Plan, UnknownMode, series_system};
use wearbook_analysis::intervals::Level;

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let mut plan = Plan::new(rows::family(&mut u)?);
    plan.unknown = *u.choose(&[
        UnknownMode::Refuse,
        UnknownMode::OwnMode,
        UnknownMode::Leading,
    ])?;
    for name in ["1", "2", "9"] {
        if u.arbitrary()? {
            plan.families.insert(name.into(), rows::family(&mut u)?);
        }
        if u.arbitrary()? {
            plan.known_shapes.insert(name.into(), rows::number(&mut u)?);
        }
    }
    let (usage, p) = (rows::number(&mut u)?, rows::number(&mut u)?);
    let sample = rows::lives(&mut u, 14)?;
    let Ok(system) = series_system(&sample, &plan) else {
        return Ok(());
    };
    let system = system.without_missing();
    if let Ok(survival) = system.survival(usage) {
        assert!((0.0..=1.0).contains(&survival));
        let mut sum = 0.0;
        for mode in &system.modes {
            let share = system
                .incidence(mode.cause.as_deref(), usage)
                .expect("a share");
            assert!((0.0..=1.0).contains(&share));
            sum += share;
        }
        assert!((sum - (1.0 - survival)).abs() < 1e-6, "{sum} {survival}");
    }
    if let Ok(shares) = system.failing_at(usage) {
        assert!((shares.iter().map(|share| share.share).sum::<f64>() - 1.0).abs() < 1e-9);
    }
    for limits in [
        system.quantile_limits(p, Level::TWO_SIDED_90),
        system.survival_limits(usage, Level::TWO_SIDED_90),
    ]
    .into_iter()
    .flatten()
    {
        let slack = 1e-12 * limits.value;
        assert!(
            limits
                .lower
                .is_none_or(|lower| lower <= limits.value + slack)
        );
        assert!(
            limits
                .upper
                .is_none_or(|upper| upper >= limits.value - slack)
        );
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
