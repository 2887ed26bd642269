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

fuzz_target!(|data: &[u8]| {
    let mut u = Unstructured::new(data);
    let Ok(lives) = lives(&mut u) else { return };
    let Ok(sample) = Sample::new(lives) else {
        return;
    };
    let drawn = Method::Bootstrap(Resampling {
        seed: 1,
        resamples: 19,
    });
    if sample.lives() <= 100
        && let Ok(fit) = fit(&sample, Family::Weibull)
        && let Ok(limits) = limits(
            &sample,
            &fit,
            Quantity::Quantile(0.1),
            Level::TWO_SIDED_90,
            drawn,
        )
    {
        assert!(limits.value.is_finite());
        assert!(limits.lower.is_none_or(|lower| lower.is_finite()));
        assert!(limits.upper.is_none_or(|upper| upper.is_finite()));
    }
    for family in Family::EVERY {
        let Ok(fit) = fit(&sample, family) else {
            continue;
        };
        let usage = sample.longest_usage();
        for quantity in [
            Quantity::Quantile(0.1),
            Quantity::Survival(usage),
            Quantity::Hazard(usage),
            Quantity::ConditionalSurvival {
                age: usage,
                span: usage,
            },
            Quantity::Span {
                age: usage,
                share: 0.1,
            },
            Quantity::MeanResidualLife(usage),
            Quantity::Parameter(family.parameter_names().last().expect("a parameter")),
        ] {
            for method in [Method::Delta, Method::LikelihoodRatio, Method::ModifiedRoot] {
                let Ok(limits) = limits(&sample, &fit, quantity, Level::TWO_SIDED_90, method)
                else {
                    continue;
                };
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
                let other = 0.7 * limits.value;
                if let Ok(chance) = confidence_below(&sample, &fit, quantity, other, method) {
                    assert!((0.0..=1.0).contains(&chance));
                }
            }
        }
    }
});
