//! Numbers as people write them.

/// Three significant digits, no fraction from 100 on, thin spaces between thousands.
#[must_use]
pub fn number(value: f64) -> String {
    let size = value.abs();
    let text = if size >= 100.0 || (value.fract() == 0.0 && size < 1e15) {
        format!("{value:.0}")
    } else if size >= 10.0 {
        format!("{value:.1}")
    } else if size >= 0.01 || size == 0.0 {
        format!("{value:.2}")
    } else {
        format!("{value:.1e}")
    };
    group_thousands(&text)
}

/// A chance as a person says it: "2 in 100" from one in a hundred up, else "1 in 5 000".
#[must_use]
pub fn chance(p: f64) -> String {
    if p >= 0.01 {
        let hundredths = p * 100.0;
        let tidy = (hundredths * 10.0).round() / 10.0;
        format!("{} in 100", number(tidy))
    } else if p > 0.0 {
        format!("1 in {}", number((1.0 / p).round()))
    } else {
        "none".to_owned()
    }
}

/// A count with its noun, which takes an s unless the count is one.
#[must_use]
pub fn count(n: u64, noun: &str) -> String {
    match n {
        1 => format!("1 {noun}"),
        0 => format!("no {noun}s"),
        _ => format!("{n} {noun}s"),
    }
}

fn group_thousands(text: &str) -> String {
    let is_plain = text.bytes().all(|b| b.is_ascii_digit());
    if !is_plain || text.len() < 5 {
        return text.to_owned();
    }
    let mut grouped = String::new();
    for (place, digit) in text.chars().enumerate() {
        if place > 0 && (text.len() - place).is_multiple_of(3) {
            grouped.push('\u{202f}');
        }
        grouped.push(digit);
    }
    grouped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_three_digits_and_group_thousands() {
        let written = [106.38, 12.34, 1.5, 0.05, 40.0, 300_000.0, 0.0].map(number);
        assert_eq!(
            written,
            ["106", "12.3", "1.50", "0.05", "40", "300\u{202f}000", "0"]
        );
    }

    #[test]
    fn chances_read_as_a_person_says_them() {
        let said = [0.1, 0.02, 0.025, 2e-4, 1e-5].map(chance);
        assert_eq!(
            said,
            [
                "10 in 100",
                "2 in 100",
                "2.50 in 100",
                "1 in 5000",
                "1 in 100\u{202f}000"
            ]
        );
    }

    #[test]
    fn one_thing_has_no_s() {
        let said = [0, 1, 2].map(|n| count(n, "failure"));
        assert_eq!(said, ["no failures", "1 failure", "2 failures"]);
    }
}
