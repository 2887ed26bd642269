//! Curves, comparisons, incidences and ranks against slow and obviously right implementations.

#![expect(
    clippy::indexing_slicing,
    reason = "a test that panics has done its work"
)]

use proptest::prelude::*;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::fit;
use wearbook_analysis::goodness::{
    anderson_darling_adjusted, distances, goodness, mann_test, plot_correlation,
    plot_correlation_test,
};
use wearbook_analysis::nonparametric::{
    LimitKind, Limits, LogRank, Weights, aalen_johansen, conditional_survival, gray_test,
    kaplan_meier, log_rank, nelson_aalen, numbers_at_risk, weighted_log_rank,
};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::ranks::{
    Direction, Positions, adjusted_ranks, beta_binomial_bounds, rank_regression,
};
use wearbook_analysis::sample::Sample;

/// Lives on a coarse grid, so that most are tied, with up to three causes and late entries.
fn tied_lives(most: usize, late: bool) -> impl Strategy<Value = Vec<Observation>> {
    let life = (1u32..12, 0u32..11, 0u8..5, 1u64..4);
    prop::collection::vec(life, 1..most).prop_map(move |lives| {
        lives
            .into_iter()
            .map(|(end, entry, kind, count)| {
                let end = f64::from(end);
                let life = match kind {
                    0 | 1 => Observation::right_censored(end),
                    2 => Observation::exact(end),
                    3 => Observation::exact(end).with_cause("a"),
                    _ => Observation::exact(end).with_cause("b"),
                };
                let entry = f64::from(entry);
                let life = if late && entry < end {
                    life.entered_at(entry)
                } else {
                    life
                };
                life.times(count)
            })
            .collect()
    })
}

/// Exact and censored lives made to hurt: tiny and huge usages and counts, entries just below exits.
fn nasty_lives() -> impl Strategy<Value = Vec<Observation>> {
    let usage = prop_oneof![
        (-6.0..9.0_f64).prop_map(|lg| 10.0_f64.powf(lg)),
        prop::sample::select(vec![1e-6, 1.0, 2.0, 3.0, 1e9]),
    ];
    let entry = prop::sample::select(vec![0.0, 0.0, 0.0, 0.5, 0.999, 1.0 - 1e-9, 1.0 - 1e-15]);
    let count = prop::sample::select(vec![1, 1, 2, 7, 1_000, 1_000_000_000]);
    let life = (usage, any::<bool>(), entry, count, prop::option::of("[ab]"));
    prop::collection::vec(
        life.prop_map(|(t, failed, entry, count, cause)| {
            let mut life = if failed {
                Observation::exact(t)
            } else {
                Observation::right_censored(t)
            };
            life = life.entered_at(entry * t);
            life.cause = cause;
            life.times(count)
        }),
        0..14,
    )
}

/// Lives enough for several blocks of points, few of them tied, some entering late.
fn many_lives() -> impl Strategy<Value = Vec<Observation>> {
    let life = (
        1e-6..1.0_f64,
        any::<bool>(),
        prop::option::weighted(0.2, 0.0..0.99_f64),
    );
    let lives = prop_oneof![
        prop::collection::vec(life.clone(), 1..20),
        prop::collection::vec(life, 240..1_100)
    ];
    lives.prop_map(|lives| {
        lives
            .into_iter()
            .map(|(t, failed, entry)| {
                let life = if failed {
                    Observation::exact(t)
                } else {
                    Observation::right_censored(t)
                };
                life.entered_at(entry.unwrap_or(0.0) * t)
            })
            .collect()
    })
}

fn sample(lives: &[Observation]) -> Sample {
    Sample::new(lives.to_vec()).expect("valid lives")
}

fn expanded(lives: &[Observation]) -> Vec<Observation> {
    lives
        .iter()
        .flat_map(|life| (0..life.count).map(|_| life.clone().times(1)))
        .collect()
}

fn at_risk(lives: &[Observation], t: f64) -> f64 {
    lives
        .iter()
        .filter(|life| life.entry < t && t <= life.lower)
        .map(|life| life.count as f64)
        .sum()
}

fn failing(lives: &[Observation], t: f64, cause: Option<Option<&str>>) -> f64 {
    lives
        .iter()
        .filter(|life| life.upper == t && life.lower == t)
        .filter(|life| cause.is_none_or(|cause| life.cause.as_deref() == cause))
        .map(|life| life.count as f64)
        .sum()
}

fn failure_times(lives: &[Observation]) -> Vec<f64> {
    let mut times: Vec<f64> = lives
        .iter()
        .filter(|life| life.upper.is_finite())
        .map(|life| life.upper)
        .collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    times
}

fn near(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * a.abs().max(b.abs()).max(1.0)
}

const WEIGHTS: [Weights; 6] = [
    Weights::LogRank,
    Weights::Gehan,
    Weights::TaroneWare,
    Weights::PetoPeto,
    Weights::FlemingHarrington {
        rho: 1.0,
        gamma: 0.0,
    },
    Weights::FlemingHarrington {
        rho: 0.5,
        gamma: 2.0,
    },
];

fn groups_of(lives: &[Observation], size: usize) -> Vec<Vec<Observation>> {
    let mut groups = vec![Vec::new(); size];
    for (i, life) in lives.iter().enumerate() {
        groups[(i * 7 + i / 3) % size].push(life.clone());
    }
    groups
}

fn compare(groups: &[Vec<Observation>], weights: Weights) -> Option<LogRank> {
    let samples: Vec<Sample> = groups.iter().map(|lives| sample(lives)).collect();
    weighted_log_rank(&[samples.iter().collect()], weights).ok()
}

/// Weighted observed and expected by counting everybody at every usage.
fn slow_comparison(groups: &[Vec<Observation>], weights: Weights) -> Vec<(f64, f64, f64)> {
    let all: Vec<Observation> = groups.concat();
    let (mut survival, mut smoothed) = (1.0_f64, 1.0);
    let mut sums = vec![(0.0, 0.0, 0.0); groups.len()];
    for t in failure_times(&all) {
        let (n, d) = (at_risk(&all, t), failing(&all, t, None));
        smoothed *= (n + 1.0 - d) / (n + 1.0);
        let weight = match weights {
            Weights::LogRank => 1.0,
            Weights::Gehan => n,
            Weights::TaroneWare => n.sqrt(),
            Weights::PetoPeto => smoothed,
            Weights::FlemingHarrington { rho, gamma } => {
                survival.powf(rho) * (1.0 - survival).powf(gamma)
            }
        };
        for (sums, own) in sums.iter_mut().zip(groups) {
            let m = at_risk(own, t);
            sums.0 += weight * failing(own, t, None);
            sums.1 += weight * d * m / n;
            if n > 1.0 {
                sums.2 += weight * weight * d * (n - d) / (n - 1.0) * m / n * (1.0 - m / n);
            }
        }
        survival *= 1.0 - d / n;
    }
    sums
}

/// Variance of the incidence of a cause at `t` by the double sum over all failure usages.
fn slow_incidence(lives: &[Observation], cause: Option<&str>, t: f64) -> (f64, f64, f64) {
    let times: Vec<f64> = failure_times(lives)
        .into_iter()
        .filter(|s| *s <= t)
        .collect();
    let mut survival = 1.0;
    let mut incidence = 0.0;
    let mut steps = Vec::new();
    for s in &times {
        let (n, d) = (at_risk(lives, *s), failing(lives, *s, None));
        let own = failing(lives, *s, Some(cause));
        let before = survival;
        incidence += before * own / n;
        survival *= 1.0 - d / n;
        steps.push((n, d, own, before, incidence));
    }
    let (mut variance, mut counting) = (0.0, 0.0);
    let tied = |n: f64, d: f64| {
        if d > 1.0 {
            1.0 - (d - 1.0) / (n - 1.0)
        } else {
            1.0
        }
    };
    for (n, d, own, before, then) in steps {
        let gap = incidence - then;
        variance +=
            before * before * own * (n - own) / n.powi(3) - 2.0 * gap * before * own / (n * n);
        let scale = before * before / (n * n);
        let share = if d < n && before > 0.0 {
            gap / (before * (1.0 - d / n))
        } else {
            0.0
        };
        if d < n {
            variance += gap * gap * d / (n * (n - d));
            counting += scale * share * share * tied(n, d - own) * (d - own);
        }
        counting += scale * (1.0 - share).powi(2) * tied(n, own) * own;
    }
    (incidence, variance, counting)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: std::env::var("PROPTEST_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(200), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn comparisons_equal_counting_everybody_at_every_usage(lives in tied_lives(40, true), size in 2usize..5) {
        let groups = groups_of(&lives, size);
        for weights in WEIGHTS {
            let Some(got) = compare(&groups, weights) else { continue };
            for (i, (observed, expected, variance)) in slow_comparison(&groups, weights).into_iter().enumerate() {
                prop_assert!(near(got.groups[i].observed, observed, 1e-10));
                prop_assert!(near(got.groups[i].expected, expected, 1e-10));
                prop_assert!(near(got.covariance[i][i], variance, 1e-10));
            }
            if size == 2 {
                let gap = got.groups[0].observed - got.groups[0].expected;
                prop_assert!(near(got.chi_square, gap * gap / got.covariance[0][0], 1e-9));
            }
            let parts = |read: fn(&LogRank, usize) -> f64| (0..size).map(|i| read(&got, i)).sum::<f64>();
            prop_assert!(near(parts(|g, i| g.groups[i].observed), parts(|g, i| g.groups[i].expected), 1e-10));
            prop_assert!((0.0..=1.0).contains(&got.p_value) && got.chi_square >= 0.0);
            prop_assert!(usize::try_from(got.freedom).unwrap() < size);
        }
    }

    #[test]
    fn comparisons_do_not_depend_on_order_unit_or_grouping_of_rows(lives in tied_lives(30, true), size in 2usize..4) {
        let groups = groups_of(&lives, size);
        let turned: Vec<Vec<Observation>> = groups.iter().rev().cloned().collect();
        let single: Vec<Vec<Observation>> = groups.iter().map(|own| {
            let mut rows = expanded(own);
            rows.reverse();
            rows
        }).collect();
        // A rising change of the usage scale keeps every order.
        let bent: Vec<Vec<Observation>> = groups.iter().map(|own| own.iter().map(|life| Observation {
            entry: life.entry.powi(3),
            lower: life.lower.powi(3),
            upper: life.upper.powi(3),
            ..life.clone()
        }).collect()).collect();
        for weights in WEIGHTS {
            let (one, other) = (compare(&groups, weights), compare(&turned, weights));
            prop_assert_eq!(one.is_some(), other.is_some());
            prop_assert_eq!(&one, &compare(&single, weights));
            let Some((one, other)) = one.zip(other) else { continue };
            prop_assert_eq!(one.freedom, other.freedom);
            prop_assert!(near(one.chi_square, other.chi_square, 1e-8), "{} {}", one.chi_square, other.chi_square);
            let bent = compare(&bent, weights).expect("as before");
            prop_assert_eq!(bent.chi_square, one.chi_square);
            prop_assert_eq!(bent.groups, one.groups);
        }
    }

    #[test]
    fn incidences_equal_their_double_sums_and_add_up(lives in tied_lives(40, true)) {
        let whole = sample(&lives);
        let got = aalen_johansen(&whole, Limits::default()).expect("curves");
        let mut failures = 0;
        for curve in &got.causes {
            failures += curve.failures;
            for point in &curve.points {
                let cause = curve.cause.as_deref();
                let (incidence, variance, counting) = slow_incidence(&lives, cause, point.time);
                prop_assert!(near(point.incidence, incidence, 1e-12));
                prop_assert!((point.variance - variance).abs() < 1e-12, "{} {}", point.variance, variance);
                prop_assert!((point.variance_counting - counting).abs() < 1e-12);
                let (Some(lower), Some(upper)) = (point.lower, point.upper) else {
                    prop_assert!(point.incidence > 1.0 - 1e-12 || point.incidence == 0.0);
                    continue;
                };
                prop_assert!(0.0 <= lower && lower <= point.incidence + 1e-12);
                prop_assert!(point.incidence <= upper + 1e-12 && upper <= 1.0);
            }
        }
        prop_assert_eq!(failures, whole.failures());
        for step in got.survival.points() {
            let total: f64 = got.causes.iter().map(|c| got.at(c.cause.as_deref(), step.time).unwrap()).sum();
            prop_assert!((total + step.survival - 1.0).abs() < 1e-12);
        }
        // Rows split and turned give the same bits.
        let mut single = expanded(&lives);
        single.reverse();
        prop_assert_eq!(&aalen_johansen(&sample(&single), Limits::default()).expect("curves"), &got);
    }

    #[test]
    fn one_cause_has_the_incidence_and_limits_of_survival(lives in tied_lives(30, true)) {
        let plain: Vec<Observation> = lives.into_iter().map(|life| Observation { cause: None, ..life }).collect();
        let whole = sample(&plain);
        for kind in [LimitKind::LogLog, LimitKind::Log, LimitKind::Plain] {
            let limits = Limits { kind, level: 0.9 };
            let curve = kaplan_meier(&whole, limits).expect("a curve");
            let got = aalen_johansen(&whole, limits).expect("curves");
            prop_assert_eq!(&got.survival, &curve);
            for point in got.causes.iter().flat_map(|curve| &curve.points) {
                let step = curve.points().find(|step| step.time == point.time).expect("a step");
                prop_assert!(near(1.0 - point.incidence, step.survival, 1e-12));
                if let (Some(error), Some(lower), Some(upper)) = (step.std_error, step.lower, step.upper) {
                    prop_assert!((point.variance.sqrt() - error).abs() < 1e-7);
                    prop_assert!((1.0 - point.upper.expect("a limit") - lower).abs() < 1e-6);
                    prop_assert!((1.0 - point.lower.expect("a limit") - upper).abs() < 1e-6);
                }
            }
        }
    }

    #[test]
    fn grays_score_for_one_cause_is_that_of_the_log_rank_test(lives in tied_lives(40, false), size in 2usize..4) {
        let plain: Vec<Observation> = lives.iter().map(|life| Observation { cause: None, ..life.clone() }).collect();
        let samples: Vec<Sample> = groups_of(&plain, size).iter().map(|own| sample(own)).collect();
        let borrowed: Vec<&Sample> = samples.iter().collect();
        if let (Ok(gray), Ok(plain)) = (gray_test(&borrowed, None, 0.0), log_rank(&borrowed)) {
            // The comparison of incidence may end before that of hazards, where the pooled incidence reaches 1.
            for (one, other) in gray.groups.iter().zip(&plain.groups) {
                prop_assert!(one.observed <= other.observed + 1e-9);
                if near(gray.groups.iter().map(|g| g.observed).sum(), plain.groups.iter().map(|g| g.observed).sum(), 1e-12) {
                    prop_assert!(near(one.expected, other.expected, 1e-9), "{} {}", one.expected, other.expected);
                }
            }
        }
        let mixed: Vec<Sample> = groups_of(&lives, size).iter().map(|own| sample(own)).collect();
        let turned: Vec<&Sample> = mixed.iter().rev().collect();
        let mixed: Vec<&Sample> = mixed.iter().collect();
        for cause in [None, Some("a"), Some("b")] {
            let (one, other) = (gray_test(&mixed, cause, 0.5), gray_test(&turned, cause, 0.5));
            prop_assert_eq!(one.is_ok(), other.is_ok());
            if let (Ok(one), Ok(other)) = (one, other) {
                prop_assert!(one.chi_square.is_finite() && one.chi_square >= 0.0);
                prop_assert!(near(one.chi_square, other.chi_square, 1e-6), "{} {}", one.chi_square, other.chi_square);
                for i in 0..size {
                    prop_assert!(one.covariance[i][i] >= 0.0);
                    prop_assert!(one.covariance[i].iter().sum::<f64>().abs() < 1e-8);
                }
            }
        }
    }

    #[test]
    fn a_curve_of_many_points_reads_the_same_from_any_place(lives in many_lives(), looked in 0.0..1.2_f64) {
        let sample = sample(&lives);
        let curve = kaplan_meier(&sample, Limits::default()).expect("a curve");
        let mut survival = 1.0;
        let mut points = Vec::new();
        for point in curve.points() {
            let (n, d) = (at_risk(&lives, point.time), failing(&lives, point.time, None));
            prop_assert_eq!((point.at_risk as f64, point.failed as f64), (n, d));
            survival *= (n - d) / n;
            prop_assert!(near(point.survival, survival, 1e-12), "{} {survival}", point.survival);
            points.push(point);
        }
        prop_assert!(points.windows(2).all(|pair| pair[0].time < pair[1].time));
        prop_assert_eq!(curve.len(), points.len());
        prop_assert_eq!(curve.last(), points.last().copied());
        let mut backwards: Vec<_> = curve.points().rev().collect();
        backwards.reverse();
        prop_assert_eq!(&backwards, &points);
        let at = points.iter().rev().find(|point| point.time <= looked).map_or(1.0, |point| point.survival);
        let beyond = points.last().is_none_or(|last| looked > last.time && last.survival > 0.0);
        prop_assert_eq!(curve.survival_at(looked), (!beyond).then_some(at));
        let first = |p: f64| points.iter().find(|point| point.survival <= 1.0 - p).map(|point| point.time);
        for p in [0.013_7, 0.251_3, 0.777_7] {
            prop_assert_eq!(curve.quantile(p).value, first(p), "{}", p);
        }
    }

    #[test]
    fn numbers_at_risk_equal_counting(lives in tied_lives(40, true), usages in prop::collection::vec(0u32..26, 0..9)) {
        let usages: Vec<f64> = usages.into_iter().map(|half| 0.5 * f64::from(half)).collect();
        let got = numbers_at_risk(&sample(&lives), &usages).expect("numbers");
        for (usage, got) in usages.iter().zip(got) {
            let want = if *usage > 0.0 {
                at_risk(&lives, *usage)
            } else {
                lives.iter().filter(|life| life.entry == 0.0).map(|life| life.count as f64).sum()
            };
            prop_assert_eq!(got as f64, want);
        }
    }

    #[test]
    fn a_conditional_curve_is_the_ratio_of_the_curve(lives in tied_lives(40, true), given in 0u32..10) {
        let (whole, given) = (sample(&lives), f64::from(given));
        let curve = kaplan_meier(&whole, Limits::default()).expect("a curve");
        let Ok(conditional) = conditional_survival(&whole, given, Limits::default()) else {
            prop_assert!(lives.iter().all(|life| life.lower <= given));
            return Ok(());
        };
        let start = curve.survival_at(given);
        for point in conditional.curve.points() {
            prop_assert!(point.time > given);
            let step = curve.points().find(|step| step.time == point.time).expect("the same usages");
            prop_assert_eq!((point.at_risk, point.failed, point.censored), (step.at_risk, step.failed, step.censored));
            if let Some(start) = start.filter(|start| *start > 0.0) {
                prop_assert!(near(point.survival * start, step.survival, 1e-12));
            }
        }
    }

    #[test]
    fn the_cumulative_hazard_equals_its_sums(lives in tied_lives(40, true)) {
        let steps = nelson_aalen(&sample(&lives)).expect("steps");
        for step in steps {
            let (mut value, mut variance, mut tied) = (0.0, 0.0, 0.0);
            for t in failure_times(&lives).into_iter().filter(|t| *t <= step.time) {
                let (n, d) = (at_risk(&lives, t), failing(&lives, t, None));
                value += d / n;
                variance += d / (n * n);
                if n > 1.0 {
                    tied += (n - d) * d / ((n - 1.0) * n * n);
                }
            }
            prop_assert!(near(step.value, value, 1e-12));
            prop_assert!((step.variance - variance).abs() < 1e-12 && (step.variance_tied - tied).abs() < 1e-12);
        }
    }

    #[test]
    fn adjusted_ranks_equal_the_recursion_life_by_life(lives in tied_lives(30, false)) {
        let whole = sample(&lives);
        let Ok(ranked) = adjusted_ranks(&whole) else {
            prop_assert_eq!(whole.failures(), 0);
            return Ok(());
        };
        let mut one_by_one = expanded(&lives);
        // Failures before censorings at ties.
        one_by_one.sort_by(|a, b| a.lower.total_cmp(&b.lower).then(a.upper.total_cmp(&b.upper)));
        let n = one_by_one.len() as f64;
        let mut rank = 0.0;
        let mut wanted = Vec::new();
        for (i, life) in one_by_one.iter().enumerate() {
            if life.upper.is_finite() {
                rank += (n + 1.0 - rank) / (1.0 + n - i as f64);
                wanted.push((life.lower, rank));
            }
        }
        let got: Vec<(f64, f64)> = ranked.iter().flat_map(|group| group.ranks().map(|rank| (group.time, rank))).collect();
        prop_assert_eq!(got.len(), wanted.len());
        for (got, want) in got.iter().zip(&wanted) {
            prop_assert_eq!(got.0, want.0);
            prop_assert!(near(got.1, want.1, 1e-12));
            prop_assert!(got.1 <= n + 1e-9);
        }
    }

    #[test]
    fn distances_equal_their_sums_over_single_lives(lives in tied_lives(20, false)) {
        let complete: Vec<Observation> = lives.into_iter().filter(|life| life.upper.is_finite()).collect();
        let whole = sample(&complete);
        let Ok(model) = fit(&whole, Family::Lognormal) else { return Ok(()) };
        let got = distances(&whole, &model).expect("distances");
        let mut failed: Vec<f64> = expanded(&complete).iter().map(|life| 1.0 - model.survival(life.lower)).collect();
        failed.sort_by(f64::total_cmp);
        let n = failed.len() as f64;
        let (mut a, mut w, mut d) = (-n, 1.0 / (12.0 * n), 0.0_f64);
        for (i, (share, other)) in failed.iter().zip(failed.iter().rev()).enumerate() {
            let i = i as f64 + 1.0;
            a -= (2.0 * i - 1.0) / n * (share.ln() + (1.0 - other).ln());
            w += (share - (2.0 * i - 1.0) / (2.0 * n)).powi(2);
            d = d.max(i / n - share).max(share - (i - 1.0) / n);
        }
        prop_assert!(near(got.anderson_darling.value, a, 1e-9), "{} {}", got.anderson_darling.value, a);
        prop_assert!(near(got.cramer_von_mises.value, w, 1e-10));
        prop_assert!(near(got.kolmogorov.value, d, 1e-10));
        if let Some((low, high)) = got.anderson_darling.chance() {
            prop_assert!(0.0 <= low && low < high && high <= 1.0);
        }
    }

    #[test]
    fn nothing_breaks_or_leaves_the_numbers_on_nasty_samples(lives in nasty_lives(), size in 2usize..4) {
        let whole = sample(&lives);
        let groups = groups_of(&lives, size);
        for weights in WEIGHTS {
            if let Some(got) = compare(&groups, weights) {
                prop_assert!(got.chi_square.is_finite() && (0.0..=1.0).contains(&got.p_value));
                let cells = got.covariance.iter().flatten().copied();
                let sums = got.groups.iter().flat_map(|group| [group.observed, group.expected]);
                prop_assert!(cells.chain(sums).all(f64::is_finite));
            }
        }
        let samples: Vec<Sample> = groups.iter().map(|own| sample(own)).collect();
        for rho in [0.0, 1.0, 3.0] {
            if let Ok(got) = gray_test(&samples.iter().collect::<Vec<_>>(), Some("a"), rho) {
                prop_assert!(got.chi_square.is_finite() && (0.0..=1.0).contains(&got.p_value));
                prop_assert!(got.covariance.iter().flatten().all(|cell| cell.is_finite()));
            }
        }
        for kind in [LimitKind::LogLog, LimitKind::Log, LimitKind::Plain] {
            if let Ok(got) = aalen_johansen(&whole, Limits { kind, level: 0.95 }) {
                for point in got.causes.iter().flat_map(|curve| &curve.points) {
                    prop_assert!((0.0..=1.0).contains(&point.incidence));
                    prop_assert!(point.variance.is_finite() && point.variance_counting.is_finite());
                    prop_assert!(point.variance >= 0.0 && point.variance_counting >= 0.0);
                    for limit in [point.lower, point.upper].into_iter().flatten() {
                        prop_assert!((0.0..=1.0).contains(&limit));
                    }
                }
            }
        }
        if let Ok(conditional) = conditional_survival(&whole, 2.0, Limits::default()) {
            for point in conditional.curve.points() {
                prop_assert!((0.0..=1.0).contains(&point.survival));
            }
        }
        if let Ok(bounds) = beta_binomial_bounds(&whole, 0.9) {
            for point in bounds {
                prop_assert!(0.0 < point.lower && point.lower <= point.share);
                prop_assert!(point.share <= point.upper && point.upper < 1.0);
            }
        }
        for family in Family::ALL {
            for positions in [Positions::Exact, Positions::Benard] {
                for direction in [Direction::YOnX, Direction::XOnY] {
                    if let Ok(line) = rank_regression(&whole, family, positions, direction) {
                        prop_assert!(line.parameters.iter().all(|value| value.is_finite()));
                        prop_assert!((-1.0..=1.0).contains(&line.correlation));
                    }
                }
                if let Ok(r) = plot_correlation(&whole, family, positions) {
                    prop_assert!((-1.0..=1.0).contains(&r));
                }
            }
            if let Ok(test) = plot_correlation_test(&whole, family, Positions::Exact, 0.1, 99, 3) {
                prop_assert!(test.critical.is_finite() && test.p_value > 0.0 && test.p_value <= 1.0);
            }
            if let Ok(model) = fit(&whole, family) {
                for point in goodness(&whole, &model).plot {
                    prop_assert!([point.adjusted_rank, point.failed, point.x, point.y].iter().all(|v| v.is_finite()));
                }
                if let Ok(value) = anderson_darling_adjusted(&whole, &model, Positions::Exact) {
                    prop_assert!(value.is_finite());
                }
                if let Ok(got) = distances(&whole, &model) {
                    prop_assert!(got.anderson_darling.value > 0.0 && got.kolmogorov.value <= 1.0);
                }
            }
        }
        if let Ok(test) = mann_test(&whole) {
            prop_assert!(test.statistic >= 0.0 && (0.0..=1.0).contains(&test.p_value));
        }
    }
}
