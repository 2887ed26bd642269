//! Tails of the gamma distribution against closed forms, a general library and each other.

use wearbook_analysis::special::incomplete_gamma::{GammaShape, bowl, stirling_residual};
use wearbook_analysis::special::normal;

fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!(
        (got - want).abs() <= tolerance * want.abs(),
        "{what}: got {got:e}, want {want:e}"
    );
}

#[test]
fn whole_shapes_are_poisson_sums() {
    for shape in [1u32, 2, 5, 11, 12, 13, 40] {
        for u in [-2.0, -0.7, -0.1, 0.0, 0.1, 0.7, 1.5] {
            let a = f64::from(shape);
            let x = a * f64::exp(u);
            let mut term = (-x).exp();
            let mut upper = 0.0;
            for k in 0..shape {
                upper += term;
                term *= x / f64::from(k + 1);
            }
            let tails = GammaShape::new(a).tails(u);
            near(
                tails.ln_upper.exp(),
                upper,
                1e-12,
                &format!("shape {a}, u {u}"),
            );
            let density = (a * x.ln() - x - libm::lgamma(a)).exp();
            near(tails.ln_density.exp(), density, 1e-12, "density");
            near(tails.ln_upper_rate.exp(), density / upper, 1e-12, "rate");
        }
    }
}

#[test]
fn moderate_tails_agree_with_a_general_library() {
    for a in [0.02, 0.3, 1.7, 9.5, 12.1, 60.0, 333.0] {
        for part in [0.3, 0.8, 0.99, 1.0, 1.01, 1.3, 2.0] {
            let tails = GammaShape::new(a).tails(f64::ln(part));
            let what = format!("shape {a}, x/a {part}");
            near(
                tails.ln_lower.exp(),
                statrs::function::gamma::gamma_lr(a, a * part),
                1e-9,
                &what,
            );
        }
    }
}

#[test]
fn the_forms_meet_without_a_step() {
    // Series, continued fraction and uniform expansion change over at shape 12 and at eta of one.
    for u in [-0.9, -0.4, 0.0, 0.3, 0.8] {
        let [below, above] = [12.0 - 1e-9, 12.0].map(|a| GammaShape::new(a).tails(u));
        near(below.ln_lower, above.ln_lower, 1e-8, "shape 12");
        near(below.ln_upper, above.ln_upper, 1e-8, "shape 12");
    }
    for a in [12.0, 30.0, 1e3, 1e6] {
        for edge in [-1.205_46, 0.858_17] {
            let [one, other] = [edge - 1e-4, edge + 1e-4].map(|u| GammaShape::new(a).tails(u));
            let middle = GammaShape::new(a).tails(edge);
            // Second differences of a smooth curve are small.
            let bend = one.ln_lower_rate - 2.0 * middle.ln_lower_rate + other.ln_lower_rate;
            if edge < 0.0 {
                assert!(bend.abs() < 1e-7, "{a} {edge} {bend}");
            }
            let bend = one.ln_upper_rate - 2.0 * middle.ln_upper_rate + other.ln_upper_rate;
            if edge > 0.0 {
                assert!(bend.abs() < 1e-7, "{a} {edge} {bend}");
            }
        }
    }
}

#[test]
fn huge_shapes_are_normal() {
    for z in [-30.0, -3.0, -0.5, 0.0, 1.0, 8.0, 35.0] {
        let tails = GammaShape::new(1e30).tails(z * 1e-15);
        near(tails.ln_upper, normal::ln_upper_tail(z), 1e-11, "upper");
        near(tails.ln_lower, normal::ln_upper_tail(-z), 1e-11, "lower");
    }
}

#[test]
fn the_parts_hold_where_their_forms_change() {
    for a in [10.0 - 1e-12, 10.0, 10.0 + 1e-12] {
        let direct =
            libm::lgamma(a) - ((a - 0.5) * a.ln() - a + 0.5 * (2.0 * std::f64::consts::PI).ln());
        near(stirling_residual(a), direct, 1e-12, "residual");
    }
    for u in [-0.5_f64, -0.25, 0.25, 0.5, 0.5 + 1e-12] {
        near(bowl(u), (u.exp_m1() - u) / (u * u), 1e-14, "bowl");
    }
    near(bowl(0.0), 0.5, 0.0, "bowl");
    for u in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(GammaShape::new(2.0).tails(u).ln_upper.is_nan());
    }
}
