//! Which usage scale explains wear best: checks by simulation and by invariance.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::fit;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;
use wearbook_analysis::usage_scale::{
    ScaleChoice, ScaleError, ScaledLife, ScaledLives, compare_scales, mixed_scale,
};

/// Lives that wear by `(1 - part) flights + part minutes / 6`, with minutes per flight different from unit to unit.
fn simulated(seed: u64, units: usize, part: f64, shape: f64) -> ScaledLives {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let lives = (0..units).map(|_| {
        let rate = 6.0 * (1.2 * (random.random::<f64>() - 0.5)).exp();
        let wear = 300.0 * (-(1.0 - random.random::<f64>()).ln()).powf(1.0 / shape);
        let flights = wear / (1.0 - part + part * rate / 6.0);
        let stop = 450.0 * random.random::<f64>() + 200.0;
        let life = |usage: f64, stop: f64| {
            if usage <= stop {
                Observation::exact(usage)
            } else {
                Observation::right_censored(stop)
            }
        };
        ScaledLife {
            on: vec![life(flights, stop), life(flights * rate, stop * rate)],
        }
    });
    ScaledLives::new(["flights", "minutes"], lives.collect::<Vec<_>>()).expect("valid")
}

#[test]
fn wear_on_one_scale_is_found_in_most_samples() {
    for (part, name) in [(0.0, "flights"), (1.0, "minutes")] {
        let mut found = 0;
        for seed in 0..40 {
            let lives = simulated(seed, 60, part, 3.0);
            let comparison = compare_scales(&lives, "minutes", Family::Weibull).expect("compared");
            found += usize::from(comparison.choice == ScaleChoice::Best(name.to_owned()));
            assert_ne!(
                comparison.choice,
                ScaleChoice::Best(if part > 0.5 { "flights" } else { "minutes" }.to_owned()),
                "seed {seed}"
            );
            let weights: f64 = comparison
                .scales
                .iter()
                .filter_map(|scale| scale.weight)
                .sum();
            assert!((weights - 1.0).abs() < 1e-12);
        }
        assert!(found >= 36, "{name}: {found} of 40");
    }
}

#[test]
fn the_reference_changes_no_difference() {
    let lives = simulated(7, 40, 1.0, 2.0);
    let by = |reference| compare_scales(&lives, reference, Family::Lognormal).expect("compared");
    for (one, other) in by("flights").scales.iter().zip(by("minutes").scales) {
        let gap = one.difference.unwrap() - other.difference.unwrap();
        assert!(gap.abs() < 1e-8, "{gap}");
    }
}

#[test]
fn units_used_at_one_rate_leave_the_scales_equal() {
    let flights = [90.0, 150.0, 180.0, 210.0, 260.0];
    let lives = flights.map(|usage| ScaledLife {
        on: vec![Observation::exact(usage), Observation::exact(6.5 * usage)],
    });
    let lives = ScaledLives::new(["flights", "minutes"], lives).expect("valid");
    for family in Family::ALL {
        let comparison = compare_scales(&lives, "flights", family).expect("compared");
        let [one, other] = [0, 1].map(|place| comparison.scales[place].log_likelihood.unwrap());
        assert!((one - other).abs() < 1e-9, "{family:?}: {one} {other}");
        assert!(
            matches!(comparison.choice, ScaleChoice::Undecided(ref scales) if scales.len() == 2)
        );
        let [one, other] = [0, 1].map(|place| comparison.scales[place].variation);
        assert!((one.unwrap() / other.unwrap() - 1.0).abs() < 1e-8);
    }
}

#[test]
fn on_the_reference_scale_the_likelihood_is_the_ordinary_one() {
    let lives = simulated(3, 30, 0.0, 2.0);
    let comparison = compare_scales(&lives, "flights", Family::Weibull).expect("compared");
    let alone = Sample::new(lives.lives().iter().map(|life| life.on[0].clone())).expect("valid");
    let fit = fit(&alone, Family::Weibull).expect("a fit");
    assert_eq!(
        comparison.scales[0].log_likelihood,
        Some(fit.log_likelihood)
    );
}

#[test]
fn the_variation_of_a_weibull_is_that_of_its_moments() {
    // Shape 2: mean sqrt(pi)/2, mean square 1, so the squared variation is 4/pi - 1.
    let lives = simulated(11, 50, 0.0, 2.0);
    let comparison = compare_scales(&lives, "flights", Family::Weibull).expect("compared");
    let fit = comparison.scales[0].fit.as_ref().expect("a fit");
    let shape = fit.parameter("shape").unwrap();
    // Moments by brute sums over the quantiles.
    let steps = 400_000;
    let (mut first, mut second) = (0.0, 0.0);
    for step in 0..steps {
        let life = (-(-(f64::from(step) + 0.5) / f64::from(steps)).ln_1p()).powf(1.0 / shape);
        first += life / f64::from(steps);
        second += life * life / f64::from(steps);
    }
    let brute = (second / (first * first) - 1.0).sqrt();
    let got = comparison.scales[0].variation.unwrap();
    assert!((got / brute - 1.0).abs() < 1e-4, "{got} {brute}");
    assert_eq!(comparison.least_variation.as_deref(), Some("flights"));
    assert!(
        comparison.scales[0].sample_variation.is_none(),
        "lives are censored"
    );
}

#[test]
fn a_mixture_finds_the_weight_that_made_the_wear() {
    let mut enclosed = 0;
    for seed in 100..112 {
        let lives = simulated(seed, 200, 0.5, 4.0);
        let mixed = mixed_scale(
            &lives,
            ["flights", "minutes"],
            Family::Weibull,
            Level::TWO_SIDED_95,
        )
        .expect("a mixture");
        assert!(mixed.limits[0] <= mixed.weight && mixed.weight <= mixed.limits[1]);
        for end in mixed.at_ends {
            assert!(end.unwrap() <= mixed.log_likelihood);
        }
        // Flights count 1 - part and minutes part / 6; in units of the means that is a weight of
        let [a, b] = mixed.units;
        let truth = 0.5 * b / 6.0 / (0.5 * a + 0.5 * b / 6.0);
        enclosed += usize::from(mixed.limits[0] <= truth && truth <= mixed.limits[1]);
    }
    assert!(enclosed >= 10, "{enclosed} of 12");
}

#[test]
fn the_ends_of_a_mixture_are_the_two_scales() {
    let lives = simulated(5, 40, 0.3, 2.5);
    let comparison = compare_scales(&lives, "flights", Family::Weibull).expect("compared");
    let mixed = mixed_scale(
        &lives,
        ["flights", "minutes"],
        Family::Weibull,
        Level::TWO_SIDED_95,
    )
    .expect("a mixture");
    for (scale, end) in comparison.scales.iter().zip(mixed.at_ends) {
        assert!((scale.log_likelihood.unwrap() - end.unwrap()).abs() < 1e-6);
    }
}

#[test]
fn lives_that_differ_between_scales_are_refused() {
    let pair = |one, other| ScaledLife {
        on: vec![one, other],
    };
    let exact = Observation::exact(3.0);
    let running = Observation::right_censored(3.0);
    let refused = |life| match ScaledLives::new(
        ["flights", "minutes"],
        [pair(exact.clone(), exact.clone()), life],
    ) {
        Err(ScaleError::Lives { faults }) => (faults[0].life, faults[0].rule),
        other => panic!("{other:?}"),
    };
    assert_eq!(refused(pair(exact.clone(), running.clone())).0, 1);
    assert!(
        refused(pair(exact.clone(), Observation::exact(0.0)))
            .1
            .contains("above 0")
    );
    assert!(
        refused(pair(exact.clone(), exact.clone().times(2)))
            .1
            .contains("count")
    );
    assert!(
        refused(ScaledLife {
            on: vec![exact.clone()]
        })
        .1
        .contains("every scale")
    );
    let broken = pair(exact.clone(), Observation::exact(3.0).entered_at(5.0));
    assert!(matches!(
        ScaledLives::new(["flights", "minutes"], [broken]),
        Err(ScaleError::Observations { .. })
    ));
    let none: [ScaledLife; 0] = [];
    assert_eq!(
        ScaledLives::new(["flights"], none.clone()),
        Err(ScaleError::TooFewScales { scales: 1 })
    );
    assert!(matches!(
        ScaledLives::new(["flights", "flights"], none.clone()),
        Err(ScaleError::Name { .. })
    ));
    let empty = ScaledLives::new(["flights", "minutes"], none).expect("valid");
    assert!(matches!(
        compare_scales(&empty, "flights", Family::Weibull),
        Err(ScaleError::Fit(_))
    ));
    assert!(matches!(
        compare_scales(&empty, "days", Family::Weibull),
        Err(ScaleError::Unknown { .. })
    ));
    assert!(matches!(
        mixed_scale(
            &empty,
            ["flights", "minutes"],
            Family::Weibull,
            Level::TWO_SIDED_95
        ),
        Err(ScaleError::Fit(_))
    ));
}

#[test]
fn families_with_more_than_location_and_shape_are_refused() {
    let lives = [3.0, 5.0, 8.0, 13.0].map(|usage| ScaledLife {
        on: vec![
            Observation::exact(usage),
            Observation::exact(2.0 * usage + 1.0),
        ],
    });
    let lives = ScaledLives::new(["flights", "minutes"], lives).expect("valid");
    assert!(compare_scales(&lives, "flights", Family::Weibull).is_ok());
    for family in [
        Family::Gamma,
        Family::GeneralisedGamma,
        Family::ThresholdWeibull,
    ] {
        let refused = ScaleError::Family { family };
        assert_eq!(
            compare_scales(&lives, "flights", family).expect_err("refused"),
            refused
        );
        let mixed = mixed_scale(&lives, ["flights", "minutes"], family, Level::TWO_SIDED_95);
        assert_eq!(mixed.expect_err("refused"), refused);
    }
}
