//! Many samples at once: the same bits for any number of threads and any order of the rows.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "seeds and shares are small"
)]

use wearbook_analysis::families::Family;
use wearbook_analysis::groups::{choose_groups, fit_groups};
use wearbook_analysis::intervals::{Level, Method, Quantity, limits};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn lives(seed: u32, most: u32) -> Vec<Observation> {
    let mut state = u64::from(seed).wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut uniform = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    let n = 5 + (seed * 7) % most;
    (0..n)
        .map(|_| {
            let t = 800.0 * (-uniform().ln()).powf(0.5);
            match uniform() * 8.0 {
                ..4.0 => Observation::exact(t),
                ..6.0 => Observation::right_censored(t),
                ..7.0 => Observation::exact(t).entered_at(0.7 * t),
                _ => Observation::interval(0.8 * t, t),
            }
        })
        .collect()
}

fn on_threads<R: Send>(threads: usize, work: impl FnOnce() -> R + Send) -> R {
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("a pool")
        .install(work)
}

#[test]
fn the_number_of_threads_and_the_order_of_the_rows_change_no_bit() {
    let given: Vec<Vec<Observation>> = (0..120).map(|seed| lives(seed, 300)).collect();
    let samples = |turned: bool| -> Vec<Sample> {
        let rows = given.iter().cloned().map(|mut rows| {
            if turned {
                let by = rows.len() / 3;
                rows.rotate_left(by);
                rows.reverse();
            }
            Sample::new(rows).expect("valid lives")
        });
        rows.collect()
    };
    let shares = [0.01, 0.1, 0.5];
    // Debug text of floating point numbers is exact, so equal text means equal bits.
    let run = |threads: usize, turned: bool| {
        let samples = samples(turned);
        on_threads(threads, || {
            let plain = fit_groups(&samples, Family::Weibull);
            let chosen = choose_groups(&samples, &Family::ALL, &shares, Level::TWO_SIDED_95);
            format!("{plain:?} {chosen:?}")
        })
    };
    let once = run(1, false);
    for (threads, turned) in [(1, true), (2, false), (2, true), (4, true)] {
        assert_eq!(once, run(threads, turned), "{threads} threads");
    }
}

#[test]
fn groups_give_what_single_calls_give() {
    let samples: Vec<Sample> = (0..20)
        .map(|seed| Sample::new(lives(seed, 60)).expect("valid lives"))
        .collect();
    let fits = fit_groups(&samples, Family::Lognormal);
    let chosen = choose_groups(&samples, &Family::ALL, &[0.1], Level::TWO_SIDED_90);
    for ((sample, fitted), chosen) in samples.iter().zip(&fits).zip(&chosen) {
        assert_eq!(
            *fitted,
            wearbook_analysis::fitting::fit(sample, Family::Lognormal)
        );
        let chosen = chosen.as_ref().expect("a model");
        let lowest = Family::ALL
            .iter()
            .filter_map(|family| wearbook_analysis::fitting::fit(sample, *family).ok()?.aicc)
            .fold(f64::INFINITY, f64::min);
        assert_eq!(chosen.fit.aicc, Some(lowest));
        let limits = limits(
            sample,
            &chosen.fit,
            Quantity::Quantile(0.1),
            Level::TWO_SIDED_90,
            Method::LikelihoodRatio,
        );
        assert_eq!(chosen.quantiles, vec![limits]);
    }
}

#[test]
fn a_sample_that_cannot_be_fitted_takes_no_other_down() {
    let samples = [
        Sample::new([Observation::right_censored(5.0)]).expect("valid lives"),
        Sample::new(lives(3, 50)).expect("valid lives"),
    ];
    let fits = fit_groups(&samples, Family::Weibull);
    assert!(fits[0].is_err() && fits[1].is_ok());
    let chosen = choose_groups(&samples, &Family::ALL, &[0.1, 2.0], Level::TWO_SIDED_95);
    assert!(chosen[0].is_err());
    let quantiles = &chosen[1].as_ref().expect("a model").quantiles;
    assert!(quantiles[0].is_ok() && quantiles[1].is_err());
    assert!(
        choose_groups(&samples, &[], &[], Level::TWO_SIDED_95)
            .iter()
            .all(Result::is_err)
    );
}
