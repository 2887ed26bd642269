//! Words for the ticks of an axis: one manner for the whole axis, whatever the size of its figures.

use crate::pages::figures;

/// Figures of an axis. Plain where all of them are short and differ, else all as powers of ten.
pub(super) fn tick_words(ticks: &[f64]) -> Vec<String> {
    let short = |tick: &f64| {
        let size = tick.abs();
        size == 0.0 || (0.001..1e7).contains(&size)
    };
    let plain: Vec<String> = ticks.iter().map(|tick| figures::age(*tick)).collect();
    let alike = plain.windows(2).any(|pair| pair.first() == pair.last());
    if ticks.iter().all(short) && !alike {
        plain
    } else {
        ticks.iter().map(|tick| power_of_ten(*tick)).collect()
    }
}

/// `2e7` as "2×10⁷", `1e-6` as "10⁻⁶".
fn power_of_ten(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let scientific = format!("{value:.6e}");
    let (lead, exponent) = scientific.split_once('e').unwrap_or((&scientific, "0"));
    let lead = lead.trim_end_matches('0').trim_end_matches('.');
    let power: String = exponent.chars().map(raised).collect();
    match lead {
        "1" => format!("10{power}"),
        lead => format!("{lead}×10{power}"),
    }
}

fn raised(letter: char) -> char {
    match letter {
        '-' => '⁻',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        '4' => '⁴',
        '5' => '⁵',
        '6' => '⁶',
        '7' => '⁷',
        '8' => '⁸',
        '9' => '⁹',
        _ => '⁰',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_of_short_figures_is_plain() {
        assert_eq!(tick_words(&[0.0, 0.5, 1.0, 1.5]), ["0", "0.5", "1", "1.5"]);
        assert_eq!(
            tick_words(&[0.1, 1.0, 1000.0]).last().map(String::len),
            Some("1\u{202f}000".len())
        );
    }

    #[test]
    fn one_figure_that_is_too_long_or_too_small_turns_all_into_powers_of_ten() {
        assert_eq!(tick_words(&[0.0, 2e7, 4e7]), ["0", "2×10⁷", "4×10⁷"]);
        assert_eq!(tick_words(&[1e-6, 1e-3, 1.0]), ["10⁻⁶", "10⁻³", "10⁰"]);
        assert_eq!(tick_words(&[2.5e-4]), ["2.5×10⁻⁴"]);
    }
}
