//! What several failure modes do together.

use super::mixed_modes::{belts, of};
use super::*;
use crate::advice::judged::Judged;
use crate::advice::modes::Sorted;

/// Distances in km of 38 vehicle shock absorbers with the manner of failure: O'Connor 1985, Practical Reliability
/// Engineering; reprinted in Meeker and Escobar 1998, table C.2 (manners beyond the first ten rows from memory).
fn shock_absorbers() -> Sample {
    let first = [6700.0, 12200.0, 14300.0, 17520.0, 20900.0, 26510.0, 27490.0];
    let second = [9120.0, 13150.0, 20100.0, 22700.0];
    let running = [
        6950.0, 7820.0, 8790.0, 9660.0, 9820.0, 11310.0, 11690.0, 11850.0, 11880.0, 12140.0,
        12870.0, 13330.0, 13470.0, 14040.0, 17540.0, 17890.0, 18450.0, 18960.0, 18980.0, 19410.0,
        20100.0, 20150.0, 20320.0, 23490.0, 27410.0, 27890.0, 28100.0,
    ];
    let failed = |at: f64, cause: &str| Observation::exact(at).with_cause(cause);
    Sample::new(
        first
            .map(|at| failed(at, "first"))
            .into_iter()
            .chain(second.map(|at| failed(at, "second")))
            .chain(running.map(Observation::right_censored)),
    )
    .unwrap()
}

#[test]
fn each_mode_of_the_shock_absorbers_has_the_weibull_worked_out_for_it() {
    let sample = shock_absorbers();
    assert_eq!((sample.lives(), sample.failures()), (38, 11));
    let input = input("tail-belt", &sample);
    let sorted = Sorted::of(&input);
    for (group, (shape, scale)) in sorted
        .groups
        .iter()
        .zip([(3.308, 31_451.8), (2.926, 39_937.2)])
    {
        let summary = Judged::new(&input, group)
            .model
            .summary(&input, None)
            .unwrap();
        assert_near(summary.shape.value.unwrap(), shape, 0.001);
        assert_near(summary.scale.value.unwrap(), scale, 1.0);
        let said = advise(&input);
        let key = group.mode.as_ref().unwrap().as_str();
        assert_eq!(of(&said, key).shape, Some(summary.shape));
    }
}

/// Share that still works at `age` by the models of all modes.
fn works(input: &AdviceInput<'_>, age: f64) -> f64 {
    let sorted = Sorted::of(input);
    sorted
        .groups
        .iter()
        .map(|group| Judged::new(input, group))
        .map(|group| 1.0 - group.model.chance_ahead(0.0, age).unwrap())
        .product()
}

#[test]
fn the_chance_ahead_is_that_of_any_mode() {
    let sample = Sample::new(belts(200, 3.2)).unwrap();
    let input = well_kept("tail-belt", &sample);
    for ahead in advise(&input).risk_ahead {
        let chance = ahead.chance.unwrap();
        assert_near(chance, 1.0 - works(&input, ahead.span), 1e-12);
        assert!(chance < ahead.upper && ahead.upper < 1.0, "{ahead:?}");
    }
}

#[test]
fn life_is_the_product_over_the_modes_with_limits_that_know_no_model() {
    let sample = shock_absorbers();
    let input = input("tail-belt", &sample);
    let life = advise(&input).life.unwrap();
    assert_eq!(life.limits, LimitsKind::ProductLimit);
    for (p, found) in [(0.1, life.ten_in_hundred_failed), (0.5, life.half_failed)] {
        let age = found.value.unwrap();
        assert_near(works(&input, age), 1.0 - p, 1e-9);
        assert!(found.lower.unwrap() < age, "{found:?}");
        assert!(found.upper.is_none_or(|upper| age < upper), "{found:?}");
    }
}

#[test]
fn a_best_value_outside_its_limits_gives_way_to_the_curve() {
    let sample = Sample::new(belts(200, 3.2)).unwrap();
    let input = well_kept("tail-belt", &sample);
    let ten = advise(&input).life.unwrap().ten_in_hundred_failed;
    let value = ten.value.unwrap();
    assert!(ten.lower.unwrap() <= value && value <= ten.upper.unwrap());
    assert!((works(&input, value) - 0.9).abs() > 1e-6, "{value}");
}
