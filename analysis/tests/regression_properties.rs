//! What must hold for any lives with covariates, modes, groups or several scales.

#![expect(
    clippy::indexing_slicing,
    reason = "a test that panics has done its work"
)]

use proptest::prelude::*;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use wearbook_analysis::competing::{ModeOutcome, Plan, UnknownMode, series_system};
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::fit;
use wearbook_analysis::intervals::{Level, Method, Quantity, limits};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::pooling::{Group, pool};
use wearbook_analysis::regression::{
    AcceleratedLife, AcceleratedLifeFit, CovariateLife, CovariatePoint, CovariateSample,
    PerStratum, ProportionalHazards, RegressionLimitMethod, Ties, accelerated_life,
    proportional_hazards,
};
use wearbook_analysis::sample::Sample;
use wearbook_analysis::usage_scale::{ScaledLife, ScaledLives, compare_scales, mixed_scale};

fn config() -> ProptestConfig {
    let cases = std::env::var("PROPTEST_CASES").ok();
    ProptestConfig {
        cases: cases.and_then(|text| text.parse().ok()).unwrap_or(60),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Lives of every kind whose log usage falls or rises with two covariates.
fn lives(most: usize) -> impl Strategy<Value = Vec<CovariateLife>> {
    let life = (
        1e-6..1.0_f64,
        0.05..3.0_f64,
        0u8..8,
        0.0..0.95_f64,
        0u8..2,
        -2.0..2.0_f64,
    );
    (
        prop::collection::vec(life, 8..most),
        -1.6..2.5_f64,
        -6.0..9.0_f64,
        -1.0..1.0_f64,
        -1.0..1.0_f64,
    )
        .prop_map(|(lives, ln_shape, lg_scale, b, c)| {
            let shape = ln_shape.exp();
            lives
                .into_iter()
                .map(|(u, stop, kind, part, group, x)| {
                    let scale = 10.0_f64.powf(lg_scale) * (b * f64::from(group) + c * x).exp();
                    let t = scale * (-u.ln()).max(1e-12).powf(1.0 / shape);
                    let stop = scale * stop.powf(1.0 / shape);
                    let life = match kind {
                        0..=2 if t <= stop => Observation::exact(t),
                        0..=2 => Observation::right_censored(stop),
                        3 => Observation::right_censored(t),
                        4 => Observation::exact(t).entered_at(part * t),
                        5 => Observation::interval(part * t, t),
                        6 => Observation::right_censored(t).entered_at(part * t),
                        _ => Observation::left_censored(t),
                    };
                    CovariateLife::new(life, vec![f64::from(group), x]).in_stratum(if group == 0 {
                        "old"
                    } else {
                        "new"
                    })
                })
                .collect()
        })
}

/// Rows made to hurt: ties, tiny and huge usages, counts and covariates, entries just below exits.
fn nasty(most: usize) -> impl Strategy<Value = Vec<CovariateLife>> {
    let usage = prop_oneof![
        (-6.0..9.0_f64).prop_map(|lg| 10.0_f64.powf(lg)),
        prop::sample::select(vec![1e-6, 1.0, 2.0, 3.0, 100.0, 1e9]),
    ];
    let entry = prop::sample::select(vec![0.0, 0.0, 0.5, 0.999, 1.0 - 1e-9, 1.0 - 1e-15]);
    let count = prop::sample::select(vec![1, 1, 1, 2, 7, 1_000, 1_000_000_000]);
    let value = prop::sample::select(vec![0.0, 1.0, 2.0, -1.0, 1e9, 1e-9, 1e300, -1e300]);
    let values = prop::collection::vec(value, 2);
    let stratum = prop::option::of("[ab]");
    let row = (usage, 0u8..5, entry, count, values, stratum)
        .prop_map(|(t, kind, entry, count, values, stratum)| {
            let mut life = match kind {
                0 | 1 => Observation::exact(t),
                2 => Observation::right_censored(t),
                3 => Observation::interval(0.9 * t, t),
                _ => Observation::left_censored(t),
            };
            if kind != 3 {
                life = life.entered_at(entry * t);
            }
            life.cause.clone_from(&stratum);
            CovariateLife {
                life: life.times(count),
                values,
                stratum,
            }
        })
        .prop_filter("a life must outlast its entry", |row| {
            row.life.upper > row.life.entry
        });
    prop::collection::vec(row, 0..most)
}

fn sample(names: &[&str], lives: Vec<CovariateLife>) -> CovariateSample {
    CovariateSample::new(names.iter().copied(), lives).expect("valid lives")
}

fn keep_columns(lives: &[CovariateLife], columns: usize) -> Vec<CovariateLife> {
    lives
        .iter()
        .map(|row| CovariateLife {
            values: row.values[..columns].to_vec(),
            ..row.clone()
        })
        .collect()
}

/// Survival and density of log-location-scale families, the plain way.
fn survival(family: Family, z: f64) -> f64 {
    match family {
        Family::Lognormal => 0.5 * libm::erfc(z / 2.0_f64.sqrt()),
        Family::Loglogistic => 1.0 / (1.0 + z.exp()),
        _ => (-z.exp()).exp(),
    }
}

fn density(family: Family, z: f64) -> f64 {
    match family {
        Family::Lognormal => (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt(),
        Family::Loglogistic => z.exp() / (1.0 + z.exp()).powi(2),
        _ => (z - z.exp()).exp(),
    }
}

/// Log-likelihood with parameters (intercept, coefficients, log sigma), life by life, by the definition.
fn slow(rows: &[CovariateLife], family: Family, parameters: &[f64]) -> f64 {
    let (first, rest) = parameters.split_first().expect("an intercept");
    let columns = rows.first().map_or(0, |row| row.values.len());
    let sigma = rest.get(columns).map_or(1.0, |log| log.exp());
    rows.iter()
        .map(|row| {
            let location: f64 =
                first + row.values.iter().zip(rest).map(|(x, b)| x * b).sum::<f64>();
            let s = |t: f64| {
                if t <= 0.0 {
                    1.0
                } else {
                    survival(family, (t.ln() - location) / sigma)
                }
            };
            let life = &row.life;
            let term = if life.upper.is_infinite() {
                s(life.lower)
            } else if life.lower == life.upper {
                density(family, (life.upper.ln() - location) / sigma) / (sigma * life.upper)
            } else {
                s(life.lower) - s(life.upper)
            };
            life.count as f64 * (term.ln() - s(life.entry).ln())
        })
        .sum()
}

/// Whether a difference of two shares is so small that the plain formula loses its digits.
fn loses_digits(rows: &[CovariateLife], family: Family, parameters: &[f64]) -> bool {
    rows.iter().any(|row| {
        let mut one = row.clone();
        one.life.count = 1;
        let between = one.life.upper.is_finite() && one.life.lower < one.life.upper;
        between && slow(&[one], family, parameters) < -16.0
    })
}

fn parameters(fit: &AcceleratedLifeFit) -> Vec<f64> {
    let mut all = vec![fit.intercepts[0].value];
    all.extend(fit.coefficients.iter().map(|c| c.value));
    if fit.model.family != Family::Exponential {
        all.push(fit.sigmas[0].value.ln());
    }
    all
}

/// Log partial likelihood by its definition, one risk set after the other; ties by all subsets for the exact rule.
fn slow_partial(rows: &[CovariateLife], b: &[f64], ties: Ties) -> f64 {
    let risk = |row: &CovariateLife| {
        row.values
            .iter()
            .zip(b)
            .map(|(x, b)| x * b)
            .sum::<f64>()
            .exp()
    };
    let mut usages: Vec<f64> = rows
        .iter()
        .filter(|row| row.life.upper.is_finite())
        .map(|row| row.life.upper)
        .collect();
    usages.sort_by(f64::total_cmp);
    usages.dedup();
    let mut total = 0.0;
    for t in usages {
        let at_risk: Vec<&CovariateLife> = rows
            .iter()
            .filter(|row| row.life.entry < t && row.life.lower >= t)
            .collect();
        let failed: Vec<&CovariateLife> = at_risk
            .iter()
            .copied()
            .filter(|row| row.life.upper == t)
            .collect();
        let all: f64 = at_risk.iter().map(|row| risk(row)).sum();
        let gone: f64 = failed.iter().map(|row| risk(row)).sum();
        total += failed.iter().map(|row| risk(row).ln()).sum::<f64>();
        let d = failed.len();
        match ties {
            Ties::Breslow => total -= d as f64 * all.ln(),
            Ties::Efron => {
                for l in 0..d {
                    total -= (all - l as f64 / d as f64 * gone).ln();
                }
            }
            Ties::Exact => {
                let mut sum = 0.0;
                for chosen in 0u32..1 << at_risk.len() {
                    if chosen.count_ones() as usize == d {
                        sum += at_risk
                            .iter()
                            .enumerate()
                            .filter(|(i, _)| chosen >> i & 1 == 1)
                            .map(|(_, row)| risk(row))
                            .product::<f64>();
                    }
                }
                total -= sum.ln();
            }
        }
    }
    total
}

const RULES: [Ties; 3] = [Ties::Breslow, Ties::Efron, Ties::Exact];

proptest! {
    #![proptest_config(config())]

    #[test]
    fn without_covariates_the_regression_is_the_ordinary_fit(rows in lives(25)) {
        let bare = sample(&[], keep_columns(&rows, 0));
        for family in Family::ALL {
            let (one, other) = (
                accelerated_life(&bare, AcceleratedLife::new(family)),
                fit(bare.lives(), family),
            );
            let (Ok(one), Ok(other)) = (one, other) else { continue };
            prop_assert!((one.log_likelihood - other.log_likelihood).abs() < 1e-8 * (1.0 + one.log_likelihood.abs()));
            let (p, level) = (0.1, Level::TWO_SIDED_90);
            let point = CovariatePoint::default();
            let near = |x: f64, y: f64| (x / y).ln().abs() < 1e-5 * (1.0 + one.sigmas[0].value);
            let Some(quantile) = other.quantile(p) else { continue };
            prop_assert!(near(one.quantile(&point, p).expect("a usage"), quantile));
            let mine = one.quantile_limits(&bare, &point, p, level, RegressionLimitMethod::LikelihoodRatio);
            let theirs = limits(bare.lives(), &other, Quantity::Quantile(p), level, Method::LikelihoodRatio);
            if let (Ok(mine), Ok(theirs)) = (mine, theirs) {
                for (x, y) in [(mine.lower, theirs.lower), (mine.upper, theirs.upper)] {
                    if let (Some(x), Some(y)) = (x, y) {
                        prop_assert!(near(x, y), "{family:?} {x} {y}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_group_with_its_own_shape_is_a_fit_of_its_own(rows in lives(40)) {
        let with = |group: f64| {
            Sample::new(rows.iter().filter(|row| row.values[0] == group).map(|row| row.life.clone())).expect("valid")
        };
        let both = sample(&["new"], keep_columns(&rows, 1));
        for family in [Family::Weibull, Family::Lognormal, Family::Loglogistic] {
            let model = AcceleratedLife { shapes: PerStratum::Own, ..AcceleratedLife::new(family) };
            let (Ok(joint), Ok(old), Ok(new)) =
                (accelerated_life(&both, model), fit(&with(0.0), family), fit(&with(1.0), family)) else { continue };
            let sum = old.log_likelihood + new.log_likelihood;
            prop_assert!((joint.log_likelihood - sum).abs() < 1e-7 * (1.0 + sum.abs()), "{family:?} {} {sum}", joint.log_likelihood);
            let own = AcceleratedLife { intercepts: PerStratum::Own, ..model };
            let apart = accelerated_life(&sample(&[], keep_columns(&rows, 0)), own);
            if let Ok(apart) = apart {
                prop_assert!((apart.log_likelihood - sum).abs() < 1e-7 * (1.0 + sum.abs()));
            }
            for (group, stratum, alone) in [(0.0, "old", &old), (1.0, "new", &new)] {
                let point = CovariatePoint::new(vec![group]).in_stratum(stratum);
                let got = joint.quantile(&point, 0.3).expect("a usage");
                if let Some(want) = alone.quantile(0.3) {
                    prop_assert!((got / want).ln().abs() < 1e-4, "{family:?} {got} {want}");
                }
            }
        }
    }

    #[test]
    fn the_fit_is_the_top_of_the_likelihood_by_its_definition(rows in lives(30)) {
        let all = sample(&["new", "load"], rows);
        for family in Family::ALL {
            let Ok(fit) = accelerated_life(&all, AcceleratedLife::new(family)) else { continue };
            let at = parameters(&fit);
            let top = slow(all.rows(), family, &at);
            // The plain formula loses far tails.
            if !top.is_finite() || loses_digits(all.rows(), family, &at) { continue }
            prop_assert!((top - fit.log_likelihood).abs() < 1e-7 * (1.0 + top.abs()), "{family:?} {top} {}", fit.log_likelihood);
            let Some(covariance) = &fit.covariance else { continue };
            let errors: Vec<f64> = (0..at.len()).map(|i| covariance[i][i].sqrt()).collect();
            if errors.iter().any(|error| *error > 2.0) { continue }
            // Second differences along each direction of the covariance: v'Hv = -v'C^-1 v, with v = C e gives -e'Ce.
            for i in 0..at.len() {
                let step = 1e-3 / errors[i];
                let shifted = |sign: f64| -> Vec<f64> {
                    at.iter().enumerate().map(|(j, value)| value + sign * step * covariance[i][j]).collect()
                };
                let (up, down) = (slow(all.rows(), family, &shifted(1.0)), slow(all.rows(), family, &shifted(-1.0)));
                prop_assert!(up <= top + 1e-9 * (1.0 + top.abs()) && down <= top + 1e-9 * (1.0 + top.abs()));
                let bend = (up - 2.0 * top + down) / (step * step);
                let noise = 1e-15 * (1.0 + top.abs()) / (step * step);
                prop_assert!((bend / covariance[i][i] + 1.0).abs() < 2e-2 + 10.0 * noise / covariance[i][i], "{family:?} {i} {bend} {}", covariance[i][i]);
            }
        }
    }

    #[test]
    fn a_limit_of_an_acceleration_factor_is_where_the_held_likelihood_has_fallen_enough(rows in lives(25)) {
        let all = sample(&["new", "load"], rows);
        let level = Level::TWO_SIDED_95;
        for family in [Family::Weibull, Family::Lognormal] {
            let Ok(full) = accelerated_life(&all, AcceleratedLife::new(family)) else { continue };
            let Ok(limits) = full.acceleration_factor(&all, "load", level, RegressionLimitMethod::LikelihoodRatio) else { continue };
            for limit in [limits.lower, limits.upper].into_iter().flatten() {
                // Dividing usage by the factor to the power of the covariate takes its effect out.
                let held = limit.ln();
                if held.abs() > 20.0 { continue }
                let mut ln_factors = 0.0;
                let rest: Vec<CovariateLife> = all.rows().iter().map(|row| {
                    let factor = (held * row.values[1]).exp();
                    let life = &row.life;
                    if life.lower == life.upper {
                        ln_factors += life.count as f64 * factor.ln();
                    }
                    let life = Observation { entry: life.entry / factor, lower: life.lower / factor, upper: life.upper / factor, ..life.clone() };
                    CovariateLife { life, values: vec![row.values[0]], stratum: None }
                }).collect();
                let Ok(rest) = accelerated_life(&sample(&["new"], rest), AcceleratedLife::new(family)) else { continue };
                let fall = 2.0 * (full.log_likelihood - (rest.log_likelihood - ln_factors));
                prop_assert!((fall - 3.841458820694124).abs() < 1e-4, "{family:?} {fall}");
            }
        }
    }

    #[test]
    fn covariates_in_other_units_and_rows_in_another_order_change_nothing(rows in lives(25), factor in 1e-4..1e4_f64, turn in 0usize..25) {
        let one = sample(&["new", "load"], rows.clone());
        let mut turned = rows.clone();
        let by = turn % turned.len();
        turned.rotate_left(by);
        turned.reverse();
        let same = sample(&["new", "load"], turned);
        prop_assert_eq!(one.digest(), same.digest());
        let scaled = sample(&["new", "load"], rows.into_iter().map(|mut row| {
            row.values[1] = row.values[1] * factor + 3.0 * factor;
            row
        }).collect());
        let model = AcceleratedLife::new(Family::Weibull);
        if let (Ok(a), Ok(b)) = (accelerated_life(&one, model), accelerated_life(&same, model)) {
            prop_assert_eq!(parameters(&a), parameters(&b));
            prop_assert_eq!(&a.covariance, &b.covariance);
            if let Ok(c) = accelerated_life(&scaled, model) {
                let (x, y) = (&a.coefficients[1], &c.coefficients[1]);
                let size = x.std_error.unwrap_or(1.0);
                prop_assert!((x.value - y.value * factor).abs() < 1e-5 * (x.value.abs() + size), "{} {}", x.value, y.value * factor);
            }
        }
    }

    #[test]
    fn the_partial_likelihood_is_that_of_its_definition(rows in lives(12), round in any::<bool>()) {
        let rows: Vec<CovariateLife> = rows.into_iter().map(|mut row| {
            let at = if row.life.upper.is_finite() { row.life.upper } else { row.life.lower };
            // Coarse usages make ties.
            let at = if round { (at.ln() * 2.0).round().mul_add(0.5, 0.0).exp() } else { at };
            let failed = row.life.upper.is_finite();
            let entry = if row.life.entry < at { row.life.entry } else { 0.0 };
            row.life = if failed { Observation::exact(at) } else { Observation::right_censored(at) }.entered_at(entry);
            row
        }).collect();
        let all = sample(&["new", "load"], rows.clone());
        let doubled: Vec<CovariateLife> = rows.iter().cloned().map(|mut row| { row.life.count = 2; row }).collect();
        let repeated: Vec<CovariateLife> = rows.iter().chain(&rows).cloned().collect();
        prop_assert_eq!(sample(&["new", "load"], doubled).digest(), sample(&["new", "load"], repeated).digest());
        let mut values = Vec::new();
        for ties in RULES {
            let Ok(fit) = proportional_hazards(&all, ProportionalHazards { ties, stratified: false }) else { continue };
            let at: Vec<f64> = fit.coefficients.iter().map(|c| c.value).collect();
            let top = slow_partial(&rows, &at, ties);
            prop_assert!((top - fit.log_likelihood).abs() < 1e-8 * (1.0 + top.abs()), "{ties:?} {top} {}", fit.log_likelihood);
            prop_assert!((slow_partial(&rows, &[0.0, 0.0], ties) - fit.log_likelihood_without).abs() < 1e-8 * (1.0 + top.abs()));
            for i in 0..2 {
                let step = 1e-3 / fit.covariance[i][i].sqrt();
                let moved = |sign: f64| [at[0] + sign * step * fit.covariance[i][0], at[1] + sign * step * fit.covariance[i][1]];
                let (up, down) = (slow_partial(&rows, &moved(1.0), ties), slow_partial(&rows, &moved(-1.0), ties));
                let bend = (up - 2.0 * top + down) / (step * step);
                prop_assert!(up <= top + 1e-9 && down <= top + 1e-9);
                prop_assert!((bend / fit.covariance[i][i] + 1.0).abs() < 2e-2, "{ties:?} {bend} {}", fit.covariance[i][i]);
            }
            values.push((at, fit.log_likelihood));
        }
        let mut usages: Vec<f64> = rows.iter().filter(|row| row.life.upper.is_finite()).map(|row| row.life.upper).collect();
        let failures = usages.len();
        usages.sort_by(f64::total_cmp);
        usages.dedup();
        if usages.len() == failures && values.len() == 3 {
            prop_assert_eq!(&values[0], &values[1]);
            prop_assert!((values[0].1 - values[2].1).abs() < 1e-9);
        }
    }

    #[test]
    fn nasty_rows_never_panic_and_never_give_a_nan(rows in nasty(14)) {
        let all = sample(&["a", "b"], rows.clone());
        let level = Level::TWO_SIDED_90;
        for family in Family::ALL {
            for own in [PerStratum::Shared, PerStratum::Own] {
                let model = AcceleratedLife { family, intercepts: own, shapes: own };
                let Ok(fit) = accelerated_life(&all, model) else { continue };
                prop_assert!(parameters(&fit).iter().all(|value| value.is_finite()));
                prop_assert!(fit.log_likelihood.is_finite() && fit.aic.is_finite() && fit.bic.is_finite());
                prop_assert!(fit.covariance.iter().flatten().flatten().all(|cell| cell.is_finite()));
                let point = CovariatePoint { values: all.rows()[0].values.clone(), stratum: all.rows()[0].stratum.clone() };
                for method in [RegressionLimitMethod::LikelihoodRatio, RegressionLimitMethod::Delta] {
                    for limits in [
                        fit.quantile_limits(&all, &point, 0.1, level, method),
                        fit.survival_limits(&all, &point, 1.0, level, method),
                    ].into_iter().flatten() {
                        prop_assert!(limits.value.is_finite());
                        prop_assert!(limits.lower.is_none_or(|lower| lower <= limits.value * (1.0 + 1e-9)));
                        prop_assert!(limits.upper.is_none_or(|upper| upper.is_finite() && upper >= limits.value * (1.0 - 1e-9)));
                    }
                }
            }
        }
        for ties in RULES {
            for stratified in [false, true] {
                let Ok(fit) = proportional_hazards(&all, ProportionalHazards { ties, stratified }) else { continue };
                prop_assert!(fit.log_likelihood.is_finite());
                prop_assert!(fit.covariance.iter().flatten().all(|cell| cell.is_finite()));
                prop_assert!(fit.coefficients.iter().all(|c| c.value.is_finite()));
            }
        }
    }

    #[test]
    fn modes_in_series_add_up(rows in nasty(14), usage in -3.0..6.0_f64) {
        let all = Sample::new(rows.into_iter().map(|row| row.life)).expect("valid");
        let usage = 10.0_f64.powf(usage);
        for unknown in [UnknownMode::OwnMode, UnknownMode::Leading] {
            for family in Family::ALL {
                let Ok(system) = series_system(&all, &Plan { unknown, ..Plan::new(family) }) else { continue };
                let kept = system.without_missing();
                if kept.modes.is_empty() { continue }
                let failed = -(-kept.cumulative_hazard(usage).expect("a hazard")).exp_m1();
                let shares: f64 = kept.modes.iter().map(|mode| kept.incidence(mode.cause.as_deref(), usage).expect("a share")).sum();
                prop_assert!((shares - failed).abs() < 1e-7, "{family:?} {shares} {failed}");
                if let Ok(at) = kept.failing_at(usage) {
                    prop_assert!((at.iter().map(|share| share.share).sum::<f64>() - 1.0).abs() < 1e-12);
                }
                if let Ok(quantile) = kept.quantile(0.2) {
                    let back = 1.0 - kept.survival(quantile).expect("a share");
                    prop_assert!((back - 0.2).abs() < 1e-6, "{back}");
                }
                if let Some(comparison) = &system.comparison {
                    prop_assert!(comparison.series_aic.is_finite() && comparison.single_aic.is_finite());
                    let exact = all.interval_censored() + all.left_censored() == 0;
                    let sum: f64 = system.modes.iter().filter_map(|mode| match &mode.outcome {
                        ModeOutcome::Fitted(fit) => Some(fit.log_likelihood),
                        _ => None,
                    }).sum();
                    if exact {
                        prop_assert!((sum - comparison.series_log_likelihood).abs() < 1e-8 * (1.0 + sum.abs()));
                    }
                }
            }
        }
    }

    #[test]
    fn pooled_numbers_are_finite_and_shares_are_shares(a in nasty(7), b in nasty(7), c in nasty(7), d in nasty(3)) {
        let groups = [a, b, c, d].into_iter().enumerate().map(|(i, rows)| Group {
            name: i.to_string(),
            lives: Sample::new(rows.into_iter().map(|row| row.life)).expect("valid"),
        });
        if let Ok(pooled) = pool(groups, Family::Weibull) {
            for group in &pooled.groups {
                for parameter in [Some(group.log_scale), group.log_shape].into_iter().flatten() {
                    prop_assert!(parameter.mean.is_finite() && parameter.deviation.is_finite());
                    prop_assert!((0.0..=1.0).contains(&parameter.shrinkage));
                }
                if let Ok(Some(limits)) = pooled.quantile(&group.name, 0.1, Level::TWO_SIDED_90) {
                    prop_assert!(limits.lower <= Some(limits.value) && limits.upper >= Some(limits.value));
                }
            }
        }
    }

    #[test]
    fn scales_compare_without_a_nan(rows in nasty(10), rates in prop::collection::vec(0.01..100.0_f64, 10)) {
        let lives = rows.iter().zip(rates).map(|(row, rate)| {
            let life = &row.life;
            let other = Observation { entry: life.entry * rate, lower: life.lower * rate, upper: life.upper * rate, ..life.clone() };
            ScaledLife { on: vec![life.clone(), other] }
        });
        let Ok(lives) = ScaledLives::new(["flights", "minutes"], lives) else { return Ok(()) };
        for family in [Family::Weibull, Family::Lognormal] {
            if let Ok(comparison) = compare_scales(&lives, "flights", family) {
                let weights: f64 = comparison.scales.iter().filter_map(|scale| scale.weight).sum();
                prop_assert!((weights - 1.0).abs() < 1e-9);
            }
            if let Ok(mixed) = mixed_scale(&lives, ["flights", "minutes"], family, Level::TWO_SIDED_90) {
                prop_assert!(mixed.log_likelihood.is_finite());
                prop_assert!(0.0 <= mixed.limits[0] && mixed.limits[0] <= mixed.weight);
                prop_assert!(mixed.weight <= mixed.limits[1] && mixed.limits[1] <= 1.0);
            }
        }
    }
}

#[test]
fn pooling_recovers_a_simulated_family_better_than_each_group_alone() {
    let mut random = ChaCha8Rng::seed_from_u64(20_260_101);
    let mut normal = move || {
        let (u, v): (f64, f64) = (random.random(), random.random());
        (
            (-2.0 * (1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos(),
            v,
            u,
        )
    };
    let (spread_scale, spread_shape) = (0.5, 0.2);
    let (mut pooled_error, mut own_error, mut own_groups) = (0.0, 0.0, 0.0);
    let (mut inside, mut all, mut between) = (0.0, 0.0, 0.0);
    let rounds = 15;
    for _ in 0..rounds {
        let truths: Vec<(f64, f64)> = (0..12)
            .map(|_| {
                (
                    5.0 + spread_scale * normal().0,
                    0.7 + spread_shape * normal().0,
                )
            })
            .collect();
        let groups: Vec<Group> = truths
            .iter()
            .enumerate()
            .map(|(i, (log_scale, log_shape))| {
                let rows = (0..12).map(|_| {
                    let (_, u, stop) = normal();
                    let life = log_scale.exp() * (-(1.0 - u).ln()).powf((-log_shape).exp());
                    let stop = 250.0 * stop + 10.0;
                    if life < stop {
                        Observation::exact(life)
                    } else {
                        Observation::right_censored(stop)
                    }
                });
                Group {
                    name: format!("{i:02}"),
                    lives: Sample::new(rows.collect::<Vec<_>>()).expect("valid"),
                }
            })
            .collect();
        let pooled = pool(groups, Family::Weibull).expect("pooled");
        between += pooled.between[0][0] / f64::from(rounds);
        for (group, (log_scale, _)) in pooled.groups.iter().zip(&truths) {
            let gap = group.log_scale.mean - log_scale;
            inside += f64::from(gap.abs() < 1.6449 * group.log_scale.deviation);
            all += 1.0;
            if let Ok(own) = &group.own {
                pooled_error += gap * gap;
                own_error += (own.parameter("scale").expect("scale").ln() - log_scale).powi(2);
                own_groups += 1.0;
            }
        }
    }
    println!(
        "mean square errors {:.3} pooled, {:.3} own over {own_groups} groups; 90 % limits hold {:.3}; between {between:.3}",
        pooled_error / own_groups,
        own_error / own_groups,
        inside / all
    );
    assert!(pooled_error < own_error);
    assert!((0.84..=0.96).contains(&(inside / all)), "{}", inside / all);
    assert!((0.15..=0.35).contains(&between), "{between}");
}
