//! The key above a chart: each mark beside its words.

use super::drawing::{Anchor, Drawing};

const ROW: f64 = 20.0;
const SAMPLE: f64 = 26.0;
const GAP: f64 = 20.0;
/// A cautious mean width of a letter at 13 px.
const LETTER: f64 = 6.9;

/// The mark that an entry of the key explains.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    Estimate,
    Band,
    Tick,
    Model,
    Decile,
    Point,
    /// One of several curves, counted from 1.
    Series(usize),
}

/// How many curves can be told apart in one drawing.
pub(super) const MOST_SERIES: usize = 6;

/// The class of one of several curves, counted from 1: each has a dash of its own.
pub(super) fn series_class(number: usize) -> String {
    format!("series series-{}", number.clamp(1, MOST_SERIES))
}

/// Entries laid out in rows that fit a width.
#[derive(Debug)]
pub(super) struct Key {
    placed: Vec<(Mark, String, f64, f64)>,
    /// Height that the rows take.
    pub(super) height: f64,
}

impl Key {
    pub(super) fn lay_out(entries: Vec<(Mark, String)>, left: f64, right: f64) -> Self {
        let mut placed = Vec::new();
        let (mut x, mut y) = (left, ROW / 2.0);
        for (mark, words) in entries {
            let letters = words.chars().fold(0.0, |width, _| width + LETTER);
            let width = SAMPLE + 6.0 + letters;
            if x > left && x + width > right {
                x = left;
                y += ROW;
            }
            placed.push((mark, words, x, y));
            x += width + GAP;
        }
        Self {
            placed,
            height: y + ROW / 2.0,
        }
    }

    pub(super) fn draw(&self, drawing: &mut Drawing) {
        for (mark, words, x, y) in &self.placed {
            let (x, y) = (*x, *y);
            let middle = x + SAMPLE / 2.0;
            match mark {
                Mark::Estimate => drawing.line("estimate", (x, y), (x + SAMPLE, y)),
                Mark::Band => drawing.rectangle("band", (x, y - 6.0), (SAMPLE, 12.0)),
                Mark::Tick => {
                    drawing.line("estimate", (x, y), (x + SAMPLE, y));
                    drawing.line("tick", (middle, y - 5.0), (middle, y + 5.0));
                }
                Mark::Model => drawing.line("model", (x, y), (x + SAMPLE, y)),
                Mark::Decile => {
                    drawing.line("whisker", (x, y), (x + SAMPLE, y));
                    drawing.diamond("diamond", (middle, y), 5.0);
                }
                Mark::Series(number) => {
                    drawing.line(&series_class(*number), (x, y), (x + SAMPLE, y));
                }
                Mark::Point => drawing.circle("point", (middle, y), 4.0),
            }
            drawing.text("", (x + SAMPLE + 6.0, y + 4.5), Anchor::Start, words);
        }
    }
}
