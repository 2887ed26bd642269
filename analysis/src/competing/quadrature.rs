//! Integrals of smooth functions, by halving until the halves agree with the whole.

use std::f64::consts::PI;

const POINTS: usize = 12;
/// Panels to start with between two points.
const PANELS: u32 = 8;
/// Most halvings, for functions that rounding keeps from settling.
const MOST_HALVINGS: u32 = 3_000;

/// Gauss-Legendre points and weights on (-1, 1), by Newton steps on the polynomial (Abramowitz and Stegun 1964,
/// 25.4.29).
fn rule() -> Vec<(f64, f64)> {
    let n = POINTS as f64;
    (0..POINTS)
        .map(|i| {
            let mut x = (PI * (i as f64 + 0.75) / (n + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..20 {
                let (mut last, mut value) = (1.0, x);
                for k in 2..=POINTS {
                    let k = k as f64;
                    (last, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * last) / k);
                }
                slope = n * (x * value - last) / (x * x - 1.0);
                x -= value / slope;
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// The integral of `f` over the stretch that `points` span, in any order, to about 1e-12 of itself, for functions that
/// change their kind only at these points.
pub(crate) fn integral(f: impl Fn(f64) -> f64, mut points: Vec<f64>) -> f64 {
    points.sort_by(f64::total_cmp);
    let rule = rule();
    let panel = |a: f64, b: f64| {
        let half = 0.5 * (b - a);
        let middle = 0.5 * (a + b);
        half * rule
            .iter()
            .map(|(x, weight)| weight * f(middle + half * x))
            .sum::<f64>()
    };
    let mut open: Vec<(f64, f64, f64)> = Vec::new();
    for (from, to) in points.iter().zip(points.iter().skip(1)) {
        // Start from several panels, so that a narrow peak is not missed.
        let width = (to - from) / f64::from(PANELS);
        for i in 0..PANELS {
            let a = from + f64::from(i) * width;
            if a + width > a {
                open.push((a, a + width, panel(a, a + width)));
            }
        }
    }
    let mut total = crate::summation::Sum::default();
    let mut size: f64 = open.iter().map(|part| part.2.abs()).sum();
    let mut halvings = 0;
    while let Some((a, b, whole)) = open.pop() {
        halvings += 1;
        let middle = 0.5 * (a + b);
        let (left, right) = (panel(a, middle), panel(middle, b));
        size = size.max(left.abs() + right.abs());
        let settled = (left + right - whole).abs() <= 1e-13 * size;
        if settled || halvings >= MOST_HALVINGS {
            total.add(left + right);
        } else {
            open.push((a, middle, left));
            open.push((middle, b, right));
        }
    }
    total.total()
}
