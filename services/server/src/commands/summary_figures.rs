//! How figures stand in a plain-text summary: so many digits as they carry, in columns that line up.

use std::fmt::Write;
use wearbook_analysis::report::LimitsKind;
use wearbook_analysis::warning::Warning;

/// Digits that an estimate is written with.
const DIGITS: i32 = 4;

/// An estimate in four significant digits; a dash where there is none.
pub fn figure(value: Option<f64>) -> String {
    match value {
        None => "-".to_owned(),
        Some(value) => rounded(value, DIGITS),
    }
}

/// An observed age: as many digits as it has, seven at most.
pub fn age(value: f64) -> String {
    let text = rounded(value, 7);
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A chance: four decimals, or a bound where they would all be zero.
pub fn chance(value: f64) -> String {
    if value > 0.0 && value < 0.0001 {
        "below 0.0001".to_owned()
    } else {
        format!("{value:.4}")
    }
}

/// Both limits in words; a dash where there is neither.
pub fn limits(lower: Option<f64>, upper: Option<f64>) -> String {
    between(lower, upper, |value| figure(Some(value)))
}

/// Limits of a share, in three decimals.
pub fn share_limits(lower: Option<f64>, upper: Option<f64>) -> String {
    between(lower, upper, |value| format!("{value:.3}"))
}

fn between(lower: Option<f64>, upper: Option<f64>, words: fn(f64) -> String) -> String {
    match (lower.map(words), upper.map(words)) {
        (Some(lower), Some(upper)) => format!("{lower} to {upper}"),
        (Some(lower), None) => format!("at least {lower}"),
        (None, Some(upper)) => format!("at most {upper}"),
        (None, None) => "-".to_owned(),
    }
}

/// A count with its noun: "1 life", "23 lives".
pub fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// A confidence level as a percentage without needless digits.
pub fn percent(share: f64) -> String {
    let text = format!("{:.2}", share * 100.0);
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
}

fn rounded(value: f64, digits: i32) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let size = value.abs();
    if !(1e-4..1e9).contains(&size) {
        let decimals = usize::try_from(digits - 1).unwrap_or(0);
        return format!("{value:.decimals$e}");
    }
    // The size is within 1e-4 and 1e9, so its decade is a small whole number.
    let mut decade = 0_i32;
    while decade < 9 && size >= 10_f64.powi(decade + 1) {
        decade += 1;
    }
    while decade > -4 && size < 10_f64.powi(decade) {
        decade -= 1;
    }
    let decimals = usize::try_from(digits - 1 - decade).unwrap_or(0);
    format!("{value:.decimals$}")
}

/// How limits were made, in words; those named first are the most. Empty where there are none.
pub fn made(kinds: impl Iterator<Item = LimitsKind>) -> String {
    let mut counts = LimitsKind::EVERY.map(|kind| (0_usize, kind));
    for kind in kinds {
        for (count, _) in counts.iter_mut().filter(|(_, known)| *known == kind) {
            *count += 1;
        }
    }
    counts.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
    let names = counts.iter().filter(|(count, _)| *count > 0);
    let names: Vec<_> = names.map(|(_, kind)| kind.name()).collect();
    if names.is_empty() {
        String::new()
    } else {
        format!(" by the {}", names.join(", some by the "))
    }
}

/// Cautions about one model, a line each. What is said alike of several parameters and ages stands once.
pub fn write_cautions(text: &mut String, model: &str, warnings: &[Warning]) {
    // "Parameter shape: the limits .." has its subject before the colon.
    let said = |warning: &Warning| {
        let message = &warning.message;
        let (_, words) = message.split_once(": ")?;
        Some((warning.code, words.to_owned()))
    };
    let mut told = Vec::new();
    for warning in warnings {
        let key = said(warning);
        let alike = warnings.iter().filter(|other| said(other) == key).count();
        if key.is_none() || alike == 1 {
            let _ = writeln!(text, "caution, {model}: {}", warning.message);
        } else if !told.contains(&key) {
            let words = key.as_ref().map_or("", |(_, words)| words);
            let _ = writeln!(
                text,
                "caution, {model}, {alike} parameters or ages: {words}"
            );
            told.push(key);
        }
    }
}

/// Lines up cells: the first column to the left, the others to the right, two blanks between them.
pub fn columns(rows: &[Vec<String>]) -> String {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..count)
        .map(|column| {
            rows.iter()
                .filter_map(|row| row.get(column))
                .map(|cell| cell.chars().count())
                .max()
                .unwrap_or(0)
        })
        .collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::from("  ");
        for (column, (cell, width)) in row.iter().zip(&widths).enumerate() {
            if column == 0 {
                line.push_str(&format!("{cell:<width$}"));
            } else {
                line.push_str(&format!("  {cell:>width$}"));
            }
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use wearbook_analysis::warning::WarningCode;

    #[test]
    fn estimates_carry_four_digits_whatever_their_size() {
        let written = [81.874_558, 2.101_847, 11_792.4, 0.000_123_45, 1e-9, 3.2e12]
            .map(|one| figure(Some(one)));
        assert_eq!(
            written,
            [
                "81.87",
                "2.102",
                "11792",
                "0.0001234",
                "1.000e-9",
                "3.200e12"
            ]
        );
        assert_eq!(figure(None), "-");
    }

    #[test]
    fn an_observed_age_keeps_its_digits_and_no_more() {
        assert_eq!(
            [61.0, 17.88, 0.25, 1e10].map(age),
            ["61", "17.88", "0.25", "1.000000e10"]
        );
    }

    #[test]
    fn a_missing_limit_is_said() {
        assert_eq!(limits(Some(1.0), Some(2.5)), "1.000 to 2.500");
        assert_eq!(limits(Some(1.0), None), "at least 1.000");
        assert_eq!(limits(None, Some(1.0)), "at most 1.000");
        assert_eq!(limits(None, None), "-");
    }

    #[test]
    fn what_is_said_alike_of_several_figures_stands_once() {
        let warning = |message: &str| Warning::new(WarningCode::LimitFailed, message);
        let mut text = String::new();
        let warnings = [
            warning("Parameter shape: none."),
            warning("The fit is odd."),
            warning("Parameter scale: none."),
            warning("Parameter q: some."),
        ];
        write_cautions(&mut text, "gamma", &warnings);
        assert_eq!(
            text,
            "caution, gamma, 2 parameters or ages: none.\ncaution, gamma: The fit is odd.\ncaution, gamma: Parameter q: some.\n"
        );
    }

    #[test]
    fn how_limits_were_made_is_told_once_for_each_kind_the_most_common_first() {
        let (root, ratio) = (LimitsKind::ModifiedRoot, LimitsKind::LikelihoodRatio);
        assert_eq!(made([ratio].into_iter()), " by the likelihood ratio");
        assert_eq!(
            made([ratio, root, root].into_iter()),
            " by the modified root, some by the likelihood ratio"
        );
        assert_eq!(made([].into_iter()), "");
    }

    #[test]
    fn cells_line_up_and_lines_end_without_blanks() {
        let rows = [
            vec!["a".to_owned(), "10".to_owned()],
            vec!["bcd".to_owned(), String::new()],
        ];
        assert_eq!(columns(&rows), "  a    10\n  bcd\n");
    }
}
