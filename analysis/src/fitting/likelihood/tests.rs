//! Sums over columns against the same sums life by life.

use proptest::prelude::*;

use super::*;
use crate::observation::Observation;
use crate::sample::Sample;

fn lives() -> impl Strategy<Value = Vec<Observation>> {
    let part = prop_oneof![0.01..0.99_f64, Just(1.0 - 1e-9), Just(1.0 - 1e-13)];
    let life = (
        -2.0..2.0_f64,
        0u8..7,
        part,
        prop::sample::select(vec![1, 1, 1, 5, 1_000_000_000]),
    );
    let life = life.prop_map(|(ln, kind, part, count)| {
        let t = ln.exp();
        match kind {
            0 | 1 => Observation::exact(t),
            2 => Observation::right_censored(t),
            3 => Observation::interval(part * t, t),
            4 => Observation::left_censored(t),
            5 => Observation::exact(t).entered_at(part * t),
            _ => Observation::interval(0.9 * t, t).entered_at(part * 0.9 * t),
        }
        .times(count)
    });
    prop::collection::vec(life, 1..40)
}

/// Sum of the sizes of what the lives contribute, by which a difference is judged.
fn size(rows: &Rows, member: &Member) -> [f64; 6] {
    let mut sums = [Sum::default(); 6];
    for row in rows.iter() {
        let term = contribution(&row, rows.centre, member);
        let stretch = row.unfailed.map(|stretch| gain(&stretch, member));
        let gained = stretch.map_or(0.0, |gain| gain.ln.exp());
        let far = 1.0 + member.log_shape.abs() + member.z(row.unfailed.map_or(0.0, |s| s.to)).abs();
        let (u, b) = (far + member.anchor.abs(), member.shape());
        let own = 1.0 + gained;
        let sized = Term {
            value: term.value.abs() + own * far,
            gradient: [b * own, u * own],
            hessian: Symmetric {
                a: b * b * own,
                b: b * u * own,
                d: u * u * own,
            },
        };
        add(&sized, row.count, &mut sums);
    }
    sums.map(|sum| sum.total())
}

fn parts(at: &Evaluation) -> [f64; 6] {
    let [g0, g1] = at.gradient;
    [at.value, g0, g1, at.hessian.a, at.hessian.b, at.hessian.d]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: std::env::var("PROPTEST_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(1_000), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn sums_over_columns_equal_sums_over_lives(
        lives in lives(),
        location in -1.5..1.5_f64,
        log_shape in -1.5..2.0_f64,
        anchor in -3.0..1.0_f64,
        family in prop::sample::select(Family::ALL.to_vec()),
    ) {
        let rows = Rows::new(&Sample::new(lives).expect("valid lives"));
        let log_shape = if family == Family::Exponential { 0.0 } else { log_shape };
        let member = Member { family, location, log_shape, anchor };
        let (got, want) = (evaluate(&rows, &member), evaluate_by_life(&rows, &member));
        for ((got, want), size) in parts(&got).into_iter().zip(parts(&want)).zip(size(&rows, &member)) {
            prop_assert!((got - want).abs() <= 1e-11 * size, "{got:e} {want:e} {size:e}");
        }
    }
}
