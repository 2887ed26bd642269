//! Exponentials and logarithms of many numbers at once against those of the standard library.

use wearbook_analysis::special::vector::{exp_all, exp_m1_all, ln_1p_all, ln_all};

/// Steps of the last place between two numbers of one sign.
fn steps(a: f64, b: f64) -> u64 {
    if a.is_nan() && b.is_nan() {
        return 0;
    }
    if a.is_sign_negative() != b.is_sign_negative() && (a != 0.0 || b != 0.0) {
        return u64::MAX;
    }
    a.to_bits().abs_diff(b.to_bits())
}

/// A fixed stream of numbers evenly spread over 0 to 1.
fn stream(n: usize) -> impl Iterator<Item = f64> + Clone {
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    (0..n).map(move |_| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1_u64 << 53) as f64
    })
}

fn compare(
    name: &str,
    inputs: impl IntoIterator<Item = f64>,
    all: fn(&mut [f64]),
    one: fn(f64) -> f64,
    most: u64,
) {
    let inputs: Vec<f64> = inputs.into_iter().collect();
    let mut got = inputs.clone();
    all(&mut got);
    let mut worst = 0;
    for (x, got) in inputs.iter().zip(&got) {
        let off = steps(*got, one(*x));
        assert!(off <= most, "{name}({x:e}): {got:e}, want {:e}", one(*x));
        worst = worst.max(off);
    }
    println!("{name}: {worst} steps");
}

const ODD: [f64; 16] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::NAN,
    f64::MIN_POSITIVE,
    5e-324,
    1e-310,
    f64::MAX,
    f64::MIN,
    -745.2,
    709.8,
    f64::EPSILON,
    -746.5,
];

#[test]
fn exponentials_agree_to_the_last_places() {
    let n = 200_000;
    for (low, high) in [
        (-1.0, 1.0),
        (-30.0, 30.0),
        (-708.0, 709.7),
        (-746.0, -700.0),
        (-1e-9, 1e-9),
    ] {
        let inputs = stream(n).map(|u| low + (high - low) * u);
        compare("exp", inputs.clone(), exp_all, f64::exp, 1);
        compare("exp_m1", inputs, exp_m1_all, f64::exp_m1, 2);
    }
    compare("exp", ODD, exp_all, f64::exp, 1);
    compare("exp_m1", ODD, exp_m1_all, f64::exp_m1, 2);
}

#[test]
fn logarithms_agree_to_the_last_places() {
    let n = 200_000;
    for (low, high) in [
        (-1.0, 1.0),
        (-300.0, 300.0),
        (-740.0, -708.0),
        (-1e-9, 1e-9),
    ] {
        let inputs = stream(n).map(|u| (low + (high - low) * u).exp());
        compare("ln", inputs.clone(), ln_all, f64::ln, 1);
        compare("ln_1p", inputs, ln_1p_all, f64::ln_1p, 2);
    }
    compare("ln", ODD, ln_all, f64::ln, 1);
    compare("ln_1p", ODD, ln_1p_all, f64::ln_1p, 2);
    compare(
        "ln_1p",
        stream(n).map(|u| u - 1.0),
        ln_1p_all,
        f64::ln_1p,
        2,
    );
}
