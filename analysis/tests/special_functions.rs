//! Special functions against exact values and in their extremes.

use wearbook_analysis::solve::root;
use wearbook_analysis::special::beta::{beta_probability, beta_quantile};
use wearbook_analysis::special::gamma::{chi_square_lower, chi_square_quantile, chi_square_upper};
use wearbook_analysis::special::normal;

fn near(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got / want - 1.0).abs() <= tolerance,
        "got {got:e}, want {want:e}"
    );
}

#[test]
fn chi_square_quantiles_of_two_degrees_are_logarithms() {
    for p in [1e-300, 1e-12, 0.01, 0.5, 0.9, 0.999_999] {
        near(chi_square_quantile(p, 2.0), -2.0 * (-p).ln_1p(), 1e-12);
    }
}

#[test]
fn chi_square_quantiles_hold_for_small_freedom_and_small_probability() {
    // Leading term of the series: p = (x/2)^a / Gamma(a + 1), a = 0.3; the next term is of relative size x.
    let p = 1e-3;
    let x = chi_square_quantile(p, 0.6);
    let gamma = libm::tgamma(1.3);
    near(x, 2.0 * (p * gamma).powf(1.0 / 0.3), 1e-9);
}

#[test]
fn chi_square_quantiles_invert_the_probability() {
    for freedom in [0.02, 0.6, 1.0, 2.0, 14.0, 333.0, 4e5] {
        for p in [1e-10, 1e-3, 0.05, 0.5, 0.95, 1.0 - 1e-9] {
            let x = chi_square_quantile(p, freedom);
            if x > 0.0 {
                near(1.0 - chi_square_upper(x, freedom), p, 1e-6);
                near(chi_square_upper(x, freedom), 1.0 - p, 1e-6);
            }
        }
    }
}

#[test]
fn chi_square_probabilities_and_quantiles_hold_for_as_many_failures_as_can_be_counted() {
    for freedom in [2e5, 2e7, 2e9, 2e13, 1.8e16] {
        // Above the mean by its series in the freedom (Abramowitz and Stegun 1964, 26.4.14).
        let beyond = 1.0 / (3.0 * (std::f64::consts::PI * freedom).sqrt());
        near(chi_square_lower(freedom, freedom), 0.5 + beyond, 1e-9);
        near(chi_square_upper(freedom, freedom), 0.5 - beyond, 1e-9);
        for p in [1e-12, 1e-3, 0.05, 0.5, 0.95, 0.9999] {
            // The expansion of Cornish and Fisher (1937).
            let z = normal::quantile(p);
            let want = freedom
                + z * (2.0 * freedom).sqrt()
                + 2.0 / 3.0 * (z * z - 1.0)
                + z * (z * z - 7.0) / (9.0 * (2.0 * freedom).sqrt());
            near(chi_square_quantile(p, freedom), want, 1e-9);
        }
    }
}

#[test]
fn normal_quantiles_invert_both_tails() {
    near(normal::quantile(0.975), 1.959_963_984_540_054, 1e-14);
    near(normal::quantile(0.025), -1.959_963_984_540_054, 1e-14);
    near(normal::upper_quantile(-1e6), 1_414.207_2, 1e-6);
    for ln_tail in [-1e8, -1e3, -40.0, -1.0, -0.7, -0.1, -1e-8] {
        near(
            normal::ln_upper_tail(normal::upper_quantile(ln_tail)),
            ln_tail,
            1e-9,
        );
    }
    assert!(normal::quantile(0.5).abs() < 1e-15);
}

#[test]
fn the_scaled_error_function_is_smooth_where_its_forms_meet() {
    near(
        normal::scaled_erfc(4.0 - 1e-12),
        normal::scaled_erfc(4.0),
        1e-11,
    );
    near(
        normal::scaled_erfc(1e8),
        1.0 / (1e8 * std::f64::consts::PI.sqrt()),
        1e-12,
    );
}

#[test]
fn beta_quantiles_of_the_ends_are_powers() {
    for n in [1.0_f64, 7.0, 5_000.0] {
        near(
            beta_quantile(0.5, 1.0, n),
            -(0.5_f64.ln() / n).exp_m1(),
            1e-11,
        );
        near(beta_quantile(0.5, n, 1.0), (0.5_f64.ln() / n).exp(), 1e-11);
        near(
            beta_probability(beta_quantile(0.2, 3.5, n), 3.5, n),
            0.2,
            1e-9,
        );
    }
}

#[test]
fn a_root_is_found_to_the_last_bits_or_not_at_all() {
    near(
        root(|x| x * x - 2.0, 0.0, 2.0).expect("a root"),
        2.0_f64.sqrt(),
        4e-16,
    );
    assert_eq!(root(|x| x * x + 1.0, -1.0, 1.0), None);
    assert_eq!(root(|_| f64::NAN, 0.0, 1.0), None);
    assert_eq!(root(|x| x, 0.0, 1.0), Some(0.0));
}

#[test]
fn beta_quantiles_keep_their_digits_where_their_forms_meet() {
    // Just below and above each switch the quantile moves as smoothly as its parameters.
    let below = |x: f64| x * (1.0 - 1e-9);
    for p in [0.05, 0.5, 0.95] {
        for b in [5_000.0, 20_000.0, 1e6] {
            near(
                beta_quantile(p, below(5_000.0), b),
                beta_quantile(p, 5_000.0, b),
                3e-9,
            );
        }
        for (a, b) in [(1.0, 1e5), (7.5, 1.5e5), (300.0, 6e6), (4_000.0, 8e7)] {
            near(beta_quantile(p, a, below(b)), beta_quantile(p, a, b), 2e-8);
            near(
                1.0 - beta_quantile(1.0 - p, b, a),
                beta_quantile(p, a, b),
                1e-7,
            );
        }
    }
    // Closed form of the end, far beyond what a power of the parameters keeps.
    let n = 9e15;
    near(beta_quantile(0.5, 1.0, n), 2.0_f64.ln() / n, 1e-12);
    // The middle of many is one half, a limit there is a normal distance away.
    near(beta_quantile(0.5, 4.5e15, 4.5e15), 0.5, 1e-15);
    let wide = beta_quantile(0.95, 5e9, 5e9) - 0.5;
    near(
        wide,
        normal::quantile(0.95) * 0.5 / 1e5_f64.powi(2).sqrt(),
        1e-4,
    );
}

#[test]
fn beta_probabilities_of_large_parameters_invert_the_quantiles() {
    for (a, b) in [
        (4_999.0, 4_999.0),
        (5_000.0, 5_000.0),
        (5e3, 1e8),
        (1e9, 3e9),
        (4.5e15, 4.5e15),
        (3.0, 1e12),
        (1e12, 3.0),
        (300.0, 7e6),
    ] {
        for p in [1e-9, 0.01, 0.3, 0.5, 0.8, 0.999] {
            let x = beta_quantile(p, a, b);
            // The last bit of x moves the probability by this much.
            let bit = (a * b / (a + b)).sqrt() * f64::EPSILON / (x * (1.0 - x)).min(1.0);
            let got = beta_probability(x, a, b);
            assert!(
                (got - p).abs() <= 2e-8 * p + 8.0 * bit,
                "{a} {b} {p}: {got}"
            );
        }
    }
    // The forms meet: just below and above each switch the probability is the same.
    for (x, a, b) in [(0.501, 5_000.0, 5_000.0), (0.0049, 5_000.0, 1e6)] {
        let below = beta_probability(x, a * (1.0 - 1e-12), b);
        near(beta_probability(x, a, b), below, 2e-8);
    }
    for (x, a, b) in [(6e-5, 7.5, 150_000.0), (5e-5, 300.0, 6e6)] {
        let below = beta_probability(x, a, b * (1.0 - 1e-12));
        near(beta_probability(x, a, b), below, 1e-7);
    }
    assert!(beta_probability(0.5, 0.0, 1.0).is_nan());
}
