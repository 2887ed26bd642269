//! Scales from data to drawing units, with ticks at round figures.

use super::drawing::{Anchor, Drawing};
use super::ticks::tick_words;

/// Maps ages or transformed shares onto a stretch of the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    from: f64,
    to: f64,
    start: f64,
    end: f64,
    logarithmic: bool,
}

impl Scale {
    /// `data` runs from `drawing.0` to `drawing.1` in equal steps.
    pub(super) fn linear(data: (f64, f64), drawing: (f64, f64)) -> Self {
        Self {
            from: data.0,
            to: data.1,
            start: drawing.0,
            end: drawing.1,
            logarithmic: false,
        }
    }

    /// Equal ratios take equal stretches; both ends of `data` are above zero.
    pub(super) fn logarithmic(data: (f64, f64), drawing: (f64, f64)) -> Self {
        Self {
            from: data.0.ln(),
            to: data.1.ln(),
            start: drawing.0,
            end: drawing.1,
            logarithmic: true,
        }
    }

    /// The place of a value; values beyond the axis are held at its ends.
    pub(super) fn place(&self, value: f64) -> f64 {
        self.at(self.share(value).clamp(0.0, 1.0))
    }

    /// The place of a value, also beyond the ends of the axis, for drawing inside a window.
    pub(super) fn place_freely(&self, value: f64) -> f64 {
        self.at(self.share(value).clamp(-9.0, 10.0))
    }

    fn share(&self, value: f64) -> f64 {
        let value = if self.logarithmic { value.ln() } else { value };
        let span = self.to - self.from;
        if span == 0.0 || value.is_nan() {
            0.0
        } else {
            (value - self.from) / span
        }
    }

    fn at(&self, share: f64) -> f64 {
        self.start + share * (self.end - self.start)
    }
}

/// A round step and the round end that holds `top`, for an axis from zero with about `wanted` ticks.
pub(super) fn round_axis(top: f64, wanted: f64) -> (f64, Vec<f64>) {
    let top = if top.is_finite() && top > 0.0 {
        top
    } else {
        1.0
    };
    let step = round_step(top / wanted.max(1.0));
    let end = (top / step).ceil() * step;
    let mut ticks = Vec::new();
    let mut number = 0.0;
    while number * step <= end * (1.0 + 1e-9) {
        ticks.push(number * step);
        number += 1.0;
    }
    (end, ticks)
}

/// Ticks at round figures on a logarithmic axis, at most `wanted` where the range allows.
pub(super) fn round_ratios(from: f64, to: f64, wanted: usize) -> Vec<f64> {
    const CHOICES: [&[f64]; 4] = [
        &[1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0],
        &[1.0, 2.0, 5.0],
        &[1.0, 3.0],
        &[1.0],
    ];
    let mut found = Vec::new();
    for leading in CHOICES {
        found = ratios(from, to, leading);
        if found.len() <= wanted {
            break;
        }
    }
    if found.len() < 3 {
        let even = even_steps(from, to, wanted);
        return if even.len() > found.len() {
            even
        } else {
            found
        };
    }
    let apart = found.len().div_ceil(wanted.max(1));
    found.into_iter().step_by(apart).collect()
}

/// Ticks in equal steps within a range too short for round ratios.
fn even_steps(from: f64, to: f64, wanted: usize) -> Vec<f64> {
    let count = u32::try_from(wanted.clamp(3, 100)).map_or(3.0, f64::from);
    let step = round_step((to - from) / count);
    if !(step > 0.0 && step.is_finite()) {
        return Vec::new();
    }
    let mut found = Vec::new();
    let mut number = (from / step).ceil();
    while number * step <= to && found.len() < 200 {
        found.push(number * step);
        number += 1.0;
    }
    found
}

fn ratios(from: f64, to: f64, leading: &[f64]) -> Vec<f64> {
    let mut found = Vec::new();
    let mut decade = 10_f64.powf(from.log10().floor());
    while decade.is_finite() && decade > 0.0 && decade <= to {
        found.extend(
            leading
                .iter()
                .map(|lead| lead * decade)
                .filter(|value| *value >= from * (1.0 - 1e-9) && *value <= to * (1.0 + 1e-9)),
        );
        decade *= 10.0;
    }
    found
}

fn round_step(rough: f64) -> f64 {
    let magnitude = 10_f64.powf(rough.log10().floor());
    let lead = rough / magnitude;
    let round = if lead <= 1.0 {
        1.0
    } else if lead <= 2.0 {
        2.0
    } else if lead <= 2.5 {
        2.5
    } else if lead <= 5.0 {
        5.0
    } else {
        10.0
    };
    round * magnitude
}

/// The rectangle that data is drawn in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plot {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
}

impl Plot {
    /// Upright grid lines with their figures, the base line and the label under them.
    pub(super) fn draw_across(
        &self,
        drawing: &mut Drawing,
        scale: &Scale,
        ticks: &[f64],
        label: &str,
    ) {
        for (tick, words) in ticks.iter().zip(tick_words(ticks)) {
            let x = scale.place(*tick);
            drawing.line("grid", (x, self.top), (x, self.bottom));
            drawing.text("soft", (x, self.bottom + 18.0), Anchor::Middle, &words);
        }
        drawing.text(
            "",
            (f64::midpoint(self.left, self.right), self.bottom + 38.0),
            Anchor::Middle,
            label,
        );
    }

    /// Level grid lines with the percentages beside them.
    pub(super) fn draw_up(
        &self,
        drawing: &mut Drawing,
        scale: &Scale,
        ticks: impl IntoIterator<Item = (f64, String)>,
    ) {
        for (tick, words) in ticks {
            let y = scale.place(tick);
            drawing.line("grid", (self.left, y), (self.right, y));
            drawing.text("soft", (self.left - 8.0, y + 4.5), Anchor::End, &words);
        }
    }

    pub(super) fn open_window(&self, drawing: &mut Drawing) {
        drawing.open_window(
            (self.left, self.top),
            (self.right - self.left, self.bottom - self.top),
        );
    }

    pub(super) fn draw_base(&self, drawing: &mut Drawing) {
        drawing.line("axis", (self.left, self.bottom), (self.right, self.bottom));
    }
}
