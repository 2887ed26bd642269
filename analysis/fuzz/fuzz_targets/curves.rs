//! Survival curves without a family: finite, falling, inside 0 to 1.
#![no_main]

#[path = "support/lives.rs"]
mod lives;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::nonparametric::{
    LimitKind, Limits, SurvivalCurve, conditional_survival, kaplan_meier, nelson_aalen,
    numbers_at_risk,
};

fn check(curve: &SurvivalCurve, given: f64) {
    let mut before = 1.0;
    for point in curve.points() {
        assert!((0.0..=before).contains(&point.survival));
        before = point.survival;
        assert!(
            point
                .std_error
                .is_none_or(|error| error.is_finite() && error >= 0.0)
        );
        for limit in [point.lower, point.upper].into_iter().flatten() {
            assert!((0.0..=1.0).contains(&limit));
        }
    }
    for horizon in [given, f64::NAN, f64::INFINITY] {
        if let Some(mean) = curve.restricted_mean(horizon) {
            assert!(mean.value.is_finite() && mean.std_error.is_finite());
            assert!((0.0..=horizon * (1.0 + 1e-12)).contains(&mean.value));
        }
    }
    for p in [0.01, 0.5, 0.99] {
        let quantile = curve.quantile(p);
        for value in [quantile.value, quantile.lower, quantile.upper]
            .into_iter()
            .flatten()
        {
            assert!(value.is_finite());
        }
    }
}

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let kind = *u.choose(&[LimitKind::LogLog, LimitKind::Log, LimitKind::Plain])?;
    let level = *u.choose(&[0.5, 0.95, 0.999_999])?;
    let limits = Limits { kind, level };
    let given = lives::usage(&mut u)?;
    let sample = lives::sample(&mut u, 24)?;
    if let Ok(curve) = kaplan_meier(&sample, limits) {
        check(&curve, given);
        let _ = curve.stops_early_at();
        let usages: Vec<f64> = curve.points().map(|point| point.time).collect();
        let counted: Vec<u64> = curve.points().map(|point| point.at_risk).collect();
        assert_eq!(usages.len(), curve.len());
        for point in curve.points() {
            assert_eq!(curve.survival_at(point.time), Some(point.survival));
        }
        assert_eq!(numbers_at_risk(&sample, &usages).expect("numbers"), counted);
    }
    if let Ok(conditional) = conditional_survival(&sample, given, limits) {
        check(&conditional.curve, given);
        assert!(
            conditional
                .curve
                .points()
                .all(|point| point.time > given)
        );
    }
    if let Ok(steps) = nelson_aalen(&sample) {
        for step in steps {
            let numbers = [step.value, step.variance, step.variance_tied];
            assert!(
                numbers
                    .iter()
                    .all(|number| number.is_finite() && *number >= 0.0)
            );
        }
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
