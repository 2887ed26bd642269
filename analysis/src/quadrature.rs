//! Integrals with a controlled error.

use crate::summation::Sum;

/// Points of the 15-point Kronrod rule on (-1, 1), from the outside to the middle, each with its weight and the
/// weight it has in the 7-point Gauss rule (Piessens et al. 1983, QUADPACK, routine QK15).
const RULE: [(f64, f64, f64); 8] = [
    (0.991_455_371_120_812_6, 0.022_935_322_010_529_224, 0.0),
    (
        0.949_107_912_342_758_5,
        0.063_092_092_629_978_56,
        0.129_484_966_168_869_7,
    ),
    (0.864_864_423_359_769_1, 0.104_790_010_322_250_18, 0.0),
    (
        0.741_531_185_599_394_4,
        0.140_653_259_715_525_92,
        0.279_705_391_489_276_64,
    ),
    (0.586_087_235_467_691_1, 0.169_004_726_639_267_9, 0.0),
    (
        0.405_845_151_377_397_2,
        0.190_350_578_064_785_4,
        0.381_830_050_505_118_9,
    ),
    (0.207_784_955_007_898_47, 0.204_432_940_075_298_9, 0.0),
    (0.0, 0.209_482_141_084_727_82, 0.417_959_183_673_469_4),
];

const MOST_PANELS: usize = 600;
/// And where many stretches are joined, this many times the panels to start with.
const MOST_PANELS_BY_FIRST: usize = 20;

/// One stretch with its estimate and error.
#[derive(Clone, Copy)]
struct Panel {
    from: f64,
    to: f64,
    value: f64,
    error: f64,
}

/// Integral of `f` from `low` to `high`, to the relative error asked for; none where the function is not finite or
/// the error cannot be brought down.
///
/// Globally adaptive bisection with the Gauss-Kronrod pair of 7 and 15 points (Piessens et al. 1983, QUADPACK). The
/// panels are summed from left to right, so the result does not depend on the order in which they were split.
#[must_use]
pub fn integral(f: impl FnMut(f64) -> f64, low: f64, high: f64, relative: f64) -> Option<f64> {
    if high < low {
        return None;
    }
    integral_through(f, &[low, high], relative)
}

/// The same from the first to the last of rising `points`, for a function that changes its kind at the points between.
pub(crate) fn integral_through(
    mut f: impl FnMut(f64) -> f64,
    points: &[f64],
    relative: f64,
) -> Option<f64> {
    // A few panels from the start, so that a narrow peak is not missed between the points of one.
    const FIRST: u32 = 4;
    let mut panels: Vec<Panel> = Vec::new();
    for (low, high) in points.iter().zip(points.iter().skip(1)) {
        if high <= low {
            continue;
        }
        let width = (high - low) / f64::from(FIRST);
        panels.extend((0..FIRST).map(|place| {
            let from = low + f64::from(place) * width;
            let to = if place + 1 == FIRST {
                *high
            } else {
                from + width
            };
            panel(&mut f, from, to)
        }));
    }
    let most = MOST_PANELS.max(MOST_PANELS_BY_FIRST * panels.len());
    loop {
        let total = panels
            .iter()
            .map(|panel| panel.value)
            .collect::<Sum>()
            .total();
        let error: f64 = panels.iter().map(|panel| panel.error).sum();
        if !total.is_finite() {
            return None;
        }
        if error <= relative * total.abs() || error == 0.0 {
            return Some(total);
        }
        let worst = panels
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.error.total_cmp(&b.1.error))
            .map(|(place, panel)| (place, *panel))?;
        let (place, Panel { from, to, .. }) = worst;
        let middle = 0.5 * (from + to);
        if panels.len() >= most || middle <= from || middle >= to {
            return None;
        }
        let halves = [panel(&mut f, from, middle), panel(&mut f, middle, to)];
        panels.splice(place..=place, halves);
    }
}

fn panel(f: &mut impl FnMut(f64) -> f64, from: f64, to: f64) -> Panel {
    let (centre, half) = (0.5 * (from + to), 0.5 * (to - from));
    let (mut fine, mut coarse, mut size) = (0.0, 0.0, 0.0);
    for (point, kronrod, gauss) in RULE {
        let pair = if point == 0.0 {
            f(centre)
        } else {
            f(centre - half * point) + f(centre + half * point)
        };
        fine += kronrod * pair;
        coarse += gauss * pair;
        size += kronrod * pair.abs();
    }
    let gap = (fine - coarse).abs() * half;
    // The pair differs by far more than the finer rule errs (QUADPACK's estimate), down to rounding.
    let size = size * half;
    let sharpened = if size > 0.0 {
        size * (200.0 * gap / size).powf(1.5).min(1.0)
    } else {
        0.0
    };
    let error = sharpened.min(gap);
    Panel {
        from,
        to,
        value: fine * half,
        error: if error < 50.0 * f64::EPSILON * size {
            0.0
        } else {
            error
        },
    }
}

#[cfg(test)]
mod tests {
    use super::integral;
    use std::f64::consts::PI;

    fn near(got: Option<f64>, want: f64) {
        let got = got.expect("an integral");
        assert!(
            (got - want).abs() <= 1e-12 * want.abs(),
            "got {got}, want {want}"
        );
    }

    #[test]
    fn known_integrals_are_met() {
        near(integral(|x| x.powi(6), 0.0, 2.0, 1e-13), 128.0 / 7.0);
        near(integral(|x| (-x * x).exp(), -9.0, 40.0, 1e-13), PI.sqrt());
        near(integral(f64::sqrt, 0.0, 1.0, 1e-13), 2.0 / 3.0);
        near(
            integral(|x| 1.0 / (1.0 + x * x), -1e3, 1e3, 1e-13),
            2.0 * 1e3_f64.atan(),
        );
        near(integral(|x| x.exp(), -700.0, 0.0, 1e-13), 1.0);
        // A step in the middle of nowhere.
        near(
            integral(|x| if x < 1.0 / 3.0 { 1.0 } else { 2.0 }, 0.0, 1.0, 1e-13),
            5.0 / 3.0,
        );
    }

    #[test]
    fn empty_backward_and_infinite_stretches_are_told_apart() {
        assert_eq!(integral(|_| 1.0, 2.0, 2.0, 1e-10), Some(0.0));
        assert_eq!(integral(|_| 1.0, 2.0, 1.0, 1e-10), None);
        assert_eq!(integral(|_| 1.0, f64::NAN, 1.0, 1e-10), None);
        assert_eq!(integral(|x| 1.0 / x, 0.0, 1.0, 1e-10), None);
        assert_eq!(integral(|_| f64::NAN, 0.0, 1.0, 1e-10), None);
    }
}
