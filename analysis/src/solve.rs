//! Roots of functions of one variable.

/// Halving alone takes this many steps from the widest bracket to the smallest numbers.
const MOST_STEPS: u32 = 2_200;

/// A root of a continuous function between `low` and `high`, where its signs differ; none if they do not, if an end is
/// infinite, if the function is not a number on the way, or if the bracket does not shrink to the last bits.
///
/// Brent's method (Brent 1973, Algorithms for Minimization without Derivatives, chapter 4), to the last bits. While the
/// function is infinite at an end its size says nothing, so that the bracket is halved.
#[must_use]
pub fn root(mut f: impl FnMut(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    if !(low.is_finite() && high.is_finite()) {
        return None;
    }
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fa.is_nan() || fb.is_nan() || (fb != 0.0 && (fa > 0.0) == (fb > 0.0)) {
        return None;
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut before = step;
    for _ in 0..MOST_STEPS {
        if (fb > 0.0) == (fc > 0.0) {
            (c, fc) = (a, fa);
            step = b - a;
            before = step;
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let tolerance = 2.0 * f64::EPSILON * b.abs() + f64::MIN_POSITIVE;
        let half = 0.5 * c - 0.5 * b;
        if half.abs() <= tolerance || fb == 0.0 {
            return Some(b);
        }
        let blind = fa.is_infinite() || fb.is_infinite() || fc.is_infinite();
        if blind || before.abs() < tolerance || fa.abs() <= fb.abs() {
            (step, before) = (half, half);
        } else {
            let s = fb / fa;
            let (mut p, mut q) = if a == c {
                (2.0 * half * s, 1.0 - s)
            } else {
                let (q, r) = (fa / fc, fb / fc);
                (
                    s * (2.0 * half * q * (q - r) - (b - a) * (r - 1.0)),
                    (q - 1.0) * (r - 1.0) * (s - 1.0),
                )
            };
            if p > 0.0 {
                q = -q;
            }
            p = p.abs();
            if 2.0 * p < (3.0 * half * q - (tolerance * q).abs()).min((before * q).abs()) {
                before = step;
                step = p / q;
            } else {
                (step, before) = (half, half);
            }
        }
        (a, fa) = (b, fb);
        b += if step.abs() > tolerance {
            step
        } else {
            tolerance.copysign(half)
        };
        fb = f(b);
        if fb.is_nan() {
            return None;
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::root;

    #[test]
    fn an_infinite_end_is_halved_away() {
        let found = root(|x| if x > 3.0 { f64::INFINITY } else { x - 2.0 }, -1e3, 1e6);
        assert!((found.expect("a root") - 2.0).abs() < 1e-14);
        let found = root(
            |x| if x < 1.5 { f64::NEG_INFINITY } else { x - 2.0 },
            0.0,
            1e9,
        );
        assert!((found.expect("a root") - 2.0).abs() < 1e-14);
        // exp overflows over most of the bracket.
        let found = root(|x| x.exp() - 5.0, -10.0, 1e8);
        assert!((found.expect("a root") - 5.0_f64.ln()).abs() < 1e-14);
    }

    #[test]
    fn a_jump_between_infinities_is_found_at_the_jump() {
        let found = root(
            |x| {
                if x < 0.3 {
                    f64::NEG_INFINITY
                } else {
                    f64::INFINITY
                }
            },
            -1.0,
            7.0,
        );
        assert!((found.expect("a jump") - 0.3).abs() < 1e-14);
    }

    #[test]
    fn ends_that_are_far_apart_converge_or_say_nothing() {
        for (low, high) in [(-1e300, 1e300), (-1.0, f64::MAX), (-f64::MAX, 1.0)] {
            if let Some(found) = root(|x| x.atan() - 0.5, low, high) {
                assert!(
                    (found - 0.5_f64.tan()).abs() < 1e-12,
                    "{low} {high} {found}"
                );
            }
        }
        assert_eq!(root(|x| x, f64::NEG_INFINITY, f64::INFINITY), None);
    }

    #[test]
    fn no_root_without_a_change_of_sign_or_with_no_number() {
        assert_eq!(root(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(root(|_| f64::INFINITY, -1.0, 1.0), None);
        assert_eq!(root(|x| (x - 0.2).sqrt() - 2.0, -1.0, 9.0), None);
        assert_eq!(
            root(|x| if x.abs() < 0.9 { f64::NAN } else { x }, -1.0, 1.0),
            None
        );
    }
}
