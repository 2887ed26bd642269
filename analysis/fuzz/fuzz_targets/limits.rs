//! Limits by every method: finite, on the right side of their value; the confidence in a value inside 0 to 1.
#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::fit;
use wearbook_analysis::intervals::{Level, Method, Quantity, Resampling, confidence_below, limits};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn lives(u: &mut Unstructured<'_>) -> arbitrary::Result<Vec<Observation>> {
    (0..u.int_in_range(1..=10)?)
        .map(|_| {
            let usage = 10.0_f64.powf(f64::from(u.int_in_range(-600..=900)?) / 100.0);
            let part = f64::from(u.int_in_range(0..=999)?) / 1000.0;
            let life = match u.int_in_range(0..=4)? {
                0 | 1 => Observation::exact(usage),
                2 => Observation::right_censored(usage),
                3 => Observation::interval(part * usage, usage),
                _ => Observation::exact(usage).entered_at(part * usage),
            };
            Ok(life.times(u.int_in_range(1..=1_000_000)?))
        })
        .collect()
}

fn run(data: &[u8]) -> arbitrary::Result<()> {
    let mut u = Unstructured::new(data);
    let family = *u.choose(&Family::EVERY)?;
    let asked = u.int_in_range(0..=6_u8)?;
    let method = match u.int_in_range(0..=9_u8)? {
        0 => Method::Bootstrap(Resampling {
            seed: 1,
            resamples: 19,
        }),
        1 | 2 => Method::Delta,
        3..=5 => Method::LikelihoodRatio,
        _ => Method::ModifiedRoot,
    };
    let (age, part) = (
        f64::from(u.int_in_range(0..=40_u8)?) / 20.0,
        f64::from(u.int_in_range(1..=99_u8)?) / 100.0,
    );
    let Ok(sample) = Sample::new(lives(&mut u)?) else {
        return Ok(());
    };
    // Drawing very many lives is only slow.
    if matches!(method, Method::Bootstrap(_)) && sample.lives() > 1_000 {
        return Ok(());
    }
    let Ok(fit) = fit(&sample, family) else {
        return Ok(());
    };
    let usage = sample.longest_usage();
    let parameter = family.parameter_names().last().expect("a parameter");
    let quantity = match asked {
        0 => Quantity::Quantile(part),
        1 => Quantity::Survival(part * usage),
        2 => Quantity::Hazard(part * usage),
        3 => Quantity::ConditionalSurvival {
            age: age * usage,
            span: part * usage,
        },
        4 => Quantity::Span {
            age: age * usage,
            share: part,
        },
        5 => Quantity::MeanResidualLife(age * usage),
        _ => Quantity::Parameter(parameter),
    };
    if let Ok(limits) = limits(&sample, &fit, quantity, Level::TWO_SIDED_90, method) {
        assert!(limits.value.is_finite());
        assert!(
            limits
                .lower
                .is_none_or(|lower| lower.is_finite() && lower <= limits.value)
        );
        assert!(
            limits
                .upper
                .is_none_or(|upper| upper.is_finite() && upper >= limits.value)
        );
        let other = (0.2 + 2.0 * part) * limits.value;
        if let Ok(chance) = confidence_below(&sample, &fit, quantity, other, method) {
            assert!((0.0..=1.0).contains(&chance));
        }
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
