//! How numbers, limits and dates are written on pages.
//!
//! Estimates carry three significant digits, counts carry all of theirs, thousands are parted by a
//! narrow no-break space, and an age never stands without its unit.

use chrono::NaiveDate;

/// Parts thousands and holds a figure and its sign together (U+202F).
const THIN: char = '\u{202f}';
const SIGNIFICANT_DIGITS: usize = 3;
const UNKNOWN: &str = "not known";

/// The words of one wear scale, as pages and charts write it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScaleWords {
    /// The code in addresses and in the API, such as `flight-minutes`.
    pub code: &'static str,
    /// Heading form, such as "Flight minutes".
    pub name: &'static str,
    /// What stands after a figure, such as "flight minutes".
    pub unit: &'static str,
    /// The same after a one, such as "flight minute".
    pub unit_of_one: &'static str,
}

impl ScaleWords {
    /// Number of flights.
    pub const FLIGHTS: Self = Self {
        code: "flights",
        name: "Flights",
        unit: "flights",
        unit_of_one: "flight",
    };
    /// Minutes in the air.
    pub const FLIGHT_MINUTES: Self = Self {
        code: "flight-minutes",
        name: "Flight minutes",
        unit: "flight minutes",
        unit_of_one: "flight minute",
    };
    /// Turns of the main rotor, in thousands.
    pub const ROTOR_KREV: Self = Self {
        code: "rotor-krev",
        name: "Thousand rotor turns",
        unit: "thousand rotor turns",
        unit_of_one: "thousand rotor turns",
    };
    /// Used by analyses that know no scale, such as a file of lives with bare ages.
    pub const BARE: Self = Self {
        code: "age",
        name: "Age",
        unit: "units of age",
        unit_of_one: "unit of age",
    };

    /// Finds the words by the scale's code; `None` for a code that no scale has.
    #[must_use]
    pub fn for_code(code: &str) -> Option<Self> {
        [Self::FLIGHTS, Self::FLIGHT_MINUTES, Self::ROTOR_KREV]
            .into_iter()
            .find(|words| words.code == code)
    }

    /// The unit that goes with a figure as it is written.
    #[must_use]
    pub fn after(&self, written: &str) -> &'static str {
        if written == "1" {
            self.unit_of_one
        } else {
            self.unit
        }
    }

    /// A suggested interval with its unit, rounded down: "1 flight", "106 flights".
    #[must_use]
    pub fn suggested(&self, value: f64) -> String {
        let written = suggestion(value);
        format!("{written} {}", self.after(&written))
    }

    /// The label of an axis that carries ages on this scale.
    #[must_use]
    pub fn axis_label(&self) -> String {
        if *self == Self::BARE {
            "Age".to_owned()
        } else {
            format!("Age in {}", self.unit)
        }
    }
}

/// A value with the limits it was computed with; a missing limit could not be found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The best single figure.
    pub value: f64,
    /// The lower limit at the level the page states.
    pub lower: Option<f64>,
    /// The upper limit at the level the page states.
    pub upper: Option<f64>,
}

impl Estimate {
    /// The value in three significant digits.
    #[must_use]
    pub fn value_text(&self) -> String {
        estimate(self.value)
    }

    /// Both limits in words, such as "36.3 to 62.0".
    #[must_use]
    pub fn limits_text(&self) -> String {
        limits(self.lower, self.upper)
    }

    /// The value as a percentage.
    #[must_use]
    pub fn percent_text(&self) -> String {
        percent(self.value)
    }

    /// Both limits as percentages, such as "1.20 to 4.50 %"; empty where neither was computed.
    #[must_use]
    pub fn percent_limits_text(&self) -> String {
        match (self.lower, self.upper) {
            (Some(lower), Some(upper)) => format!(
                "{} to {}",
                percent(lower).trim_end_matches(['%', THIN]),
                percent(upper)
            ),
            (Some(lower), None) => format!("at least {}", percent(lower)),
            (None, Some(upper)) => format!("at most {}", percent(upper)),
            (None, None) => String::new(),
        }
    }
}

/// Three significant digits: `352.4` is "352", `0.004567` is "0.00457".
#[must_use]
pub fn estimate(value: f64) -> String {
    significant(value, SIGNIFICANT_DIGITS)
}

/// Rounds down to three significant digits and to whole numbers from 10 on, so that a suggested
/// interval is never written longer than it was computed.
#[must_use]
pub fn suggestion(value: f64) -> String {
    if !value.is_finite() || value <= 0.0 {
        return UNKNOWN.to_owned();
    }
    let magnitude = value.log10().floor();
    let step = 10_f64.powf(magnitude - 2.0);
    let step = if value >= 10.0 { step.max(1.0) } else { step };
    // The small lift keeps 0.3 / 0.1 = 2.999.. from dropping a whole step.
    let floored = ((value / step) * (1.0 + 1e-12)).floor() * step;
    plain(floored, if value >= 10.0 { 0 } else { 4 })
}

/// A whole number with thin groups: `12345` is "12 345".
#[must_use]
pub fn count(value: u64) -> String {
    group(&value.to_string())
}

/// A count with its noun, in the singular for one: "1 failure", "34 failures".
#[must_use]
pub fn counted(value: u64, one: &str, many: &str) -> String {
    format!("{} {}", count(value), if value == 1 { one } else { many })
}

/// A share between 0 and 1 as a percentage in three significant digits.
#[must_use]
pub fn percent(share: f64) -> String {
    if !share.is_finite() {
        return UNKNOWN.to_owned();
    }
    let hundredfold = share * 100.0;
    if hundredfold != 0.0 && hundredfold.abs() < 0.001 {
        return format!("under 0.001{THIN}%");
    }
    format!("{}{THIN}%", estimate(hundredfold))
}

/// A confidence level without needless digits: `0.9` is "90 %".
#[must_use]
pub fn level(share: f64) -> String {
    format!("{}{THIN}%", plain(share * 100.0, 1))
}

/// A fraction of survivors with three decimals, as life tables print it.
#[must_use]
pub fn fraction(share: f64) -> String {
    if share.is_finite() {
        format!("{share:.3}")
    } else {
        UNKNOWN.to_owned()
    }
}

/// A measure of fit such as a log-likelihood: two decimals, a true minus sign.
#[must_use]
pub fn score(value: f64) -> String {
    if !value.is_finite() {
        return UNKNOWN.to_owned();
    }
    signed(&format!("{value:.2}"))
}

/// Two limits in words; either may be missing.
#[must_use]
pub fn limits(lower: Option<f64>, upper: Option<f64>) -> String {
    match (lower, upper) {
        (Some(lower), Some(upper)) => format!("{} to {}", estimate(lower), estimate(upper)),
        (Some(lower), None) => format!("at least {}", estimate(lower)),
        (None, Some(upper)) => format!("at most {}", estimate(upper)),
        (None, None) => "no limits found".to_owned(),
    }
}

/// An observed age or an axis figure: as many digits as the data has, four decimals at most.
#[must_use]
pub fn age(value: f64) -> String {
    if value.is_finite() {
        plain(value, 4)
    } else {
        UNKNOWN.to_owned()
    }
}

/// The shortest text that reads back as the same number, for the `value` of a `data` element.
#[must_use]
pub fn exact(value: f64) -> String {
    if value.is_finite() {
        value.to_string()
    } else {
        String::new()
    }
}

/// A day in words: "31 January 2026".
#[must_use]
pub fn day(date: NaiveDate) -> String {
    date.format("%-d %B %Y").to_string()
}

fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return UNKNOWN.to_owned();
    }
    if value == 0.0 {
        return "0".to_owned();
    }
    let scientific = format!("{value:.*e}", digits.saturating_sub(1));
    let (mantissa, exponent) = scientific.split_once('e').unwrap_or((&scientific, "0"));
    let exponent: i64 = exponent.parse().unwrap_or(0);
    if !(-5..9).contains(&exponent) {
        return format!("{} × 10{}", signed(mantissa), superscript(exponent));
    }
    let rounded: f64 = scientific.parse().unwrap_or(value);
    let wanted = i64::try_from(digits).unwrap_or(3) - 1 - exponent;
    let decimals = usize::try_from(wanted).unwrap_or(0);
    signed(&group(&format!("{rounded:.decimals$}")))
}

/// At most `decimals` decimals, with trailing zeros dropped.
fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    signed(&group(text))
}

fn group(text: &str) -> String {
    let (sign, rest) = text
        .strip_prefix('-')
        .map_or(("", text), |rest| ("-", rest));
    let (whole, tail) = rest
        .split_once('.')
        .map_or((rest, None), |(whole, tail)| (whole, Some(tail)));
    let mut grouped = String::from(sign);
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (whole.len() - place).is_multiple_of(3) {
            grouped.push(THIN);
        }
        grouped.push(digit);
    }
    if let Some(tail) = tail {
        grouped.push('.');
        grouped.push_str(tail);
    }
    grouped
}

fn signed(text: &str) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("\u{2212}{rest}"),
        None => text.to_owned(),
    }
}

fn superscript(exponent: i64) -> String {
    exponent
        .to_string()
        .chars()
        .map(|c| match c {
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
        })
        .collect()
}

#[cfg(test)]
mod tests;
