//! The highest place of a function of one variable within a stretch.

/// Half of three less the root of five: the golden section.
const GOLDEN: f64 = 0.381_966_011_250_105_1;

/// Place and value of a highest point between `low` and `high`, by parabolas safeguarded by golden sections (Brent
/// 1973, chapter 5), to within `tolerance` of the place.
pub(super) fn highest(
    mut f: impl FnMut(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
) -> (f64, f64) {
    let (mut a, mut b) = (low, high);
    let mut best = a + GOLDEN * (b - a);
    let mut f_best = f(best);
    let (mut second, mut f_second) = (best, f_best);
    let (mut third, mut f_third) = (best, f_best);
    let (mut step, mut before) = (0.0_f64, 0.0_f64);
    for _ in 0..80 {
        let middle = 0.5 * (a + b);
        if (best - middle).abs() <= 2.0 * tolerance - 0.5 * (b - a) {
            break;
        }
        let r = (best - second) * (f_third - f_best);
        let q = (best - third) * (f_second - f_best);
        let mut p = (best - third) * q - (best - second) * r;
        let mut slope = 2.0 * (q - r);
        if slope > 0.0 {
            p = -p;
        }
        slope = slope.abs();
        let usable = before.abs() > tolerance
            && p.is_finite()
            && p.abs() < (0.5 * slope * before).abs()
            && p > slope * (a - best)
            && p < slope * (b - best);
        if usable {
            before = step;
            step = p / slope;
            let at = best + step;
            if at - a < 2.0 * tolerance || b - at < 2.0 * tolerance {
                step = tolerance.copysign(middle - best);
            }
        } else {
            before = if best < middle { b - best } else { a - best };
            step = GOLDEN * before;
        }
        let at = best
            + if step.abs() >= tolerance {
                step
            } else {
                tolerance.copysign(step)
            };
        let f_at = f(at);
        if f_at >= f_best {
            if at < best {
                b = best;
            } else {
                a = best;
            }
            (third, f_third) = (second, f_second);
            (second, f_second) = (best, f_best);
            (best, f_best) = (at, f_at);
        } else {
            if at < best {
                a = at;
            } else {
                b = at;
            }
            if f_at >= f_second || second == best {
                (third, f_third) = (second, f_second);
                (second, f_second) = (at, f_at);
            } else if f_at >= f_third || third == best || third == second {
                (third, f_third) = (at, f_at);
            }
        }
    }
    (best, f_best)
}

#[cfg(test)]
mod tests {
    use super::highest;

    #[test]
    fn tops_inside_and_at_an_end_are_found() {
        let (at, value) = highest(|x| -(x - 0.3_f64).powi(2) + x.sin(), -2.0, 2.0, 1e-9);
        // 2 (x - 0.3) = cos x
        assert!((2.0 * (at - 0.3) - at.cos()).abs() < 1e-6);
        assert!(value >= -(at - 0.3_f64).powi(2) + at.sin());
        let (at, _) = highest(|x| x, -2.0, 2.0, 1e-6);
        assert!(2.0 - at < 1e-5);
        let (at, _) = highest(|x| -(x - 0.7_f64).abs(), 0.0, 1.0, 1e-9);
        assert!((at - 0.7).abs() < 1e-8);
    }
}
