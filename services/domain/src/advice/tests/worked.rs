//! Figures worked out apart from this code, in plain arithmetic.

use wearbook_analysis::fitting::known_shape;

use super::*;
use crate::advice::curve::Curve;

fn curve(shape: f64, scale: f64) -> Curve<'static> {
    Curve::KnownShapes {
        lower: vec![WeibullLife::new(shape, scale).unwrap()],
    }
}

#[test]
fn a_belt_of_shape_3_2_and_scale_360_uses_up_each_chance_at_the_worked_age() {
    let belt = curve(3.2, 360.0);
    for (p, age) in [
        (0.001, 41.6),
        (0.01, 85.5),
        (0.02, 106.4),
        (0.05, 142.3),
        (0.10, 178.2),
    ] {
        assert_near(belt.age_at(p).unwrap(), age, 0.06);
    }
}

#[test]
fn a_mean_chance_of_2_in_10000_flights_gives_the_belt_about_109_flights() {
    let age = curve(3.2, 360.0).age_for_mean_risk(2e-4, 0.10).unwrap();
    let share = WeibullLife::new(3.2, 360.0).unwrap().failure(age);
    assert_near(share / age, 2e-4, 1e-9);
    // For small shares (p scale^shape)^(1/(shape-1)) holds nearly.
    let closed_form = (2e-4 * 360f64.powf(3.2)).powf(1.0 / 2.2);
    assert_near(closed_form, 108.9, 0.06);
    assert_near(age, closed_form, 0.6);
}

#[test]
fn the_lesser_of_the_two_limits_counts() {
    let belt = curve(3.2, 360.0);
    assert_near(belt.age_for_mean_risk(2e-4, 0.02).unwrap(), 106.4, 0.06);
}

#[test]
fn a_belt_that_works_at_150_has_used_up_a_chance_of_0_088_fifty_flights_later() {
    assert_near(curve(3.2, 360.0).span_at(150.0, 0.088).unwrap(), 50.0, 0.4);
}

#[test]
fn a_spindle_of_shape_2_8_and_scale_820_meets_the_targets_at_the_worked_ages() {
    let spindle = curve(2.8, 820.0);
    assert_near(spindle.age_at(0.001).unwrap(), 69.6, 0.06);
    assert_near(spindle.age_for_mean_risk(1e-5, 0.001).unwrap(), 56.9, 0.06);
}

#[test]
fn ten_belts_of_150_flights_without_failure_give_the_worked_scale_at_each_level() {
    let fit = known_shape(&unfailed(10, 150.0), 3.2).unwrap();
    for (level, scale, one_in_hundred) in [
        (0.50, 345.0, 82.0),
        (0.632, 308.0, 73.0),
        (0.90, 237.0, 56.0),
        (0.95, 219.0, 52.0),
    ] {
        assert_near(fit.scale_lower(level).unwrap(), scale, 1.0);
        assert_near(
            fit.quantile_lower(0.01, level).unwrap(),
            one_in_hundred,
            0.6,
        );
    }
}

#[test]
fn ten_unfailed_belts_leave_common_practice_standing_beside_the_most_careful_of_three_shapes() {
    let sample = unfailed(10, 150.0);
    let advice = advise(&input("tail-belt", &sample));
    // Shape 2: scale sqrt(10 * 150^2 / -ln 0.1) = 312.6; one in fifty have failed by 312.6 * sqrt(-ln 0.98) = 44.4.
    assert_eq!(advice.replacement.age_at_interval_target, Some(44.0));
    assert_eq!(advice.replacement.value, Some(150.0));
    assert_eq!(advice.replacement.basis, ReplacementBasis::CommonPractice);
    let shapes: Vec<f64> = advice
        .known_shape_range
        .iter()
        .map(|result| result.shape)
        .collect();
    assert_eq!(shapes, [2.0, 3.25, 4.5]);
    assert_near(advice.known_shape_range[0].scale_lower.unwrap(), 312.6, 0.1);
    assert_eq!(advice.model.unwrap().method, ModelMethod::KnownShape);
}

#[test]
fn eleven_dampers_and_one_failure_give_the_worked_lower_scale() {
    let running = [
        20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 70.0, 80.0,
    ];
    let rows = running.map(Observation::right_censored).into_iter();
    let without = known_shape(&Sample::new(rows.clone()).unwrap(), 2.5).unwrap();
    let with = known_shape(
        &Sample::new(rows.chain([Observation::exact(65.0)])).unwrap(),
        2.5,
    )
    .unwrap();
    assert_near(with.scale.unwrap(), 142.0, 0.5);
    assert_near(with.scale_lower(0.9).unwrap(), 82.6, 0.1);
    assert_near(with.quantile_lower(0.10, 0.9).unwrap(), 33.6, 0.1);
    assert_near(without.scale_lower(0.9).unwrap(), 95.8, 0.1);
}

#[test]
fn the_chance_over_the_next_ten_flights_of_shape_3_and_scale_220_grows_as_worked() {
    let part = curve(3.0, 220.0);
    for (age, chance) in [
        (0.0, 0.0001),
        (50.0, 0.0085),
        (80.0, 0.020),
        (120.0, 0.043),
        (150.0, 0.066),
    ] {
        assert_near(part.risk_upper(age, 10.0).unwrap(), chance, 0.0006);
    }
}

#[test]
fn a_target_per_flight_that_no_keepable_renewal_meets_leaves_the_target_per_interval_standing() {
    // Shape 1.3, life 480: the closed form (2e-4 * 480^1.3)^(1/0.3) gives 0.2 flights, F = 0.02 is reached at 23.9.
    let sample = spread(1.3, 480.0, 2000, 400.0);
    let advice = advise(&input("belt-idler", &sample));
    assert_eq!(advice.replacement.basis, ReplacementBasis::RiskPerInterval);
    assert!(
        advice
            .replacement
            .value
            .is_some_and(|age| (10.0..24.0).contains(&age)),
        "{:?}",
        advice.replacement
    );
    assert!(advice.replacement.why.contains("too short to keep"));
}
