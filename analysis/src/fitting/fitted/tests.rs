//! The short ways against the general search.

use proptest::prelude::*;

use super::*;
use crate::observation::Observation;

/// Exact failures and survivors over wide ranges of shape, scale, censoring and entry.
fn lives() -> impl Strategy<Value = Vec<Observation>> {
    let entry = prop::sample::select(vec![0.0, 0.0, 0.3, 0.9, 1.0 - 1e-9, 1.0 - 1e-14]);
    let count = prop::sample::select(vec![1, 1, 1, 2, 1_000, 1_000_000_000]);
    let life = (1e-6..1.0_f64, 0.0..1.0_f64, entry, count, any::<bool>());
    (
        prop::collection::vec(life, 2..60),
        -1.6..3.0_f64,
        -6.0..9.0_f64,
        0.0..0.99_f64,
        any::<bool>(),
    )
        .prop_map(|(lives, ln_shape, lg_scale, censored, late)| {
            lives
                .into_iter()
                .map(|(u, stop, entry, count, tied)| {
                    let z = if tied { 1.0 } else { -u.ln() };
                    let t = 10.0_f64.powf(lg_scale) * z.powf((-ln_shape).exp());
                    let life = if stop < censored {
                        Observation::right_censored(t)
                    } else {
                        Observation::exact(t)
                    };
                    life.entered_at(if late { entry * t } else { 0.0 })
                        .times(count)
                })
                .collect()
        })
}

/// The same lives with failures known only to lie between looks: close, wide, on a grid so that stretches touch, or
/// before the first.
fn between_looks() -> impl Strategy<Value = Vec<Observation>> {
    let looks = prop::sample::select(vec![0.0, 1e-12, 1e-3, 0.1, 0.5, 0.9, 1.0]);
    (lives(), looks, 0.0..1.0_f64, any::<bool>()).prop_map(|(lives, look, exact, touching)| {
        let several = lives.len();
        let mut known = 0.0;
        lives
            .into_iter()
            .map(|life| {
                known = (known + 0.618_033_988_749_895_f64) % 1.0;
                if life.upper.is_infinite() || known < exact || several < 3 {
                    return life;
                }
                let (age, entry) = (life.lower, life.entry);
                let (lower, upper) = if touching && look > 0.01 {
                    let cell = (age.ln() / look).floor();
                    ((cell * look).exp(), ((cell + 1.0) * look).exp())
                } else {
                    (age * (1.0 - look * known), age * (1.0 + look * known))
                };
                let lower = lower.max(entry);
                let seen = if lower > 0.0 && upper > lower {
                    Observation::interval(lower, upper)
                } else if upper > lower {
                    Observation::left_censored(upper)
                } else {
                    Observation::exact(age)
                };
                seen.entered_at(entry).times(life.count)
            })
            .collect()
    })
}

fn close(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * (1.0 + a.abs().max(b.abs()))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: std::env::var("PROPTEST_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(2_000), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_short_ways_end_where_the_general_search_ends(
        lives in lives(),
        family in prop::sample::select(vec![Family::Weibull, Family::Exponential, Family::Lognormal, Family::Loglogistic]),
    ) {
        compare(lives, family)?;
    }

    #[test]
    fn newtons_steps_between_looks_end_where_the_general_search_ends(lives in between_looks()) {
        compare(lives, Family::Weibull)?;
    }
}

fn compare(lives: Vec<Observation>, family: Family) -> Result<(), TestCaseError> {
    let sample = Sample::new(lives).expect("valid lives");
    if existence::check(&sample, family).is_err() {
        return Ok(());
    }
    let (short, long) = (fit(&sample, family), by_search(&sample, family));
    let (Ok(short), Ok(long)) = (&short, &long) else {
        // Where only one of them finds a top, it must be the short one.
        prop_assert!(short.is_ok() || long.is_err(), "{short:?} {long:?}");
        return Ok(());
    };
    // The general search ends once a step promises less than 1e-12 of the log-likelihood, and the sum itself is
    // rounded in proportion to the lives. Where that is more than a millionth, as with counts of 1e9, the general
    // search says where the top is only so far; the short way must be as high.
    let size = long.lives as f64 * (1.0 + long.location.abs());
    let slack = 1e-12 * size.max(long.log_likelihood.abs());
    if slack > 1e-6 {
        prop_assert!(
            short.log_likelihood >= long.log_likelihood - slack,
            "{short:?} {long:?}"
        );
        return Ok(());
    }
    prop_assert!(
        close(short.log_likelihood, long.log_likelihood, 1e-11),
        "{short:?} {long:?}"
    );
    // On ridges so flat that the location is known to some powers of e only, a share of that error is enough.
    let error = long.location_covariance.map_or(0.0, |cov| cov.a.sqrt());
    let near = 1e-8 * (1.0 + long.location.abs() + error);
    prop_assert!(
        (short.location - long.location).abs() <= near,
        "{short:?} {long:?}"
    );
    if error > 100.0 {
        return Ok(());
    }
    prop_assert!(
        close(short.log_shape, long.log_shape, 1e-8),
        "{short:?} {long:?}"
    );
    if let (Some(a), Some(b)) = (short.location_covariance, long.location_covariance) {
        for (a, b) in [(a.a, b.a), (a.b, b.b), (a.d, b.d)] {
            prop_assert!(
                (a - b).abs() <= 1e-5 * (a.abs() + b.abs()) + 1e-12,
                "{short:?} {long:?}"
            );
        }
    }
    Ok(())
}
