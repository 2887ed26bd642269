//! What every chart can do: be drawn for a page or a file, say what it shows, and be read as a table.

use super::axis::Plot;
use super::drawing::{Anchor, Caption, Drawing, Place};
use super::key::{Key, Mark};
use super::rows::Written;
use crate::pages::figures;

/// A chart from plain figures.
pub trait Chart {
    /// What it is about and the unit.
    fn title(&self) -> String;

    /// What it shows, in a sentence or two, with the sample size.
    fn reading(&self) -> String;

    /// The same figures as a table.
    fn table(&self) -> ChartTable;

    /// The drawing; none where there is nothing to draw.
    fn draw(&self, place: Place) -> Option<String>;
}

/// The figures of a chart, for a reader without eyes for it and for a program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChartTable {
    /// What stands above the columns, with their units.
    pub heads: Vec<String>,
    /// As many cells in each row as there are heads.
    pub rows: Vec<Vec<Written>>,
}

/// Draws for wide and for narrow screens; the style sheet shows one of them. None where there is nothing to draw.
#[must_use]
pub fn for_page(chart: &impl Chart) -> Option<String> {
    Some(chart.draw(Place::Wide)? + &chart.draw(Place::Narrow)?)
}

/// Draws as a file that stands alone. None where there is nothing to draw.
#[must_use]
pub fn for_file(chart: &impl Chart) -> Option<String> {
    chart.draw(Place::File)
}

/// What stands around every plot: the key on top, the heading, and the words that go with the drawing.
pub(super) struct Frame {
    pub(super) plot: Plot,
    /// About how many ticks fit across.
    pub(super) ticks: f64,
    key: Key,
    width: f64,
    place: Place,
}

impl Frame {
    /// A plot with this much room to its left.
    pub(super) fn new(entries: Vec<(Mark, String)>, left: f64, place: Place) -> Self {
        let (width, rise, ticks) = match place {
            Place::Narrow => (358.0, 250.0, 4.0),
            Place::Wide | Place::File => (720.0, 300.0, 8.0),
        };
        let key = Key::lay_out(entries, 4.0, width);
        Self {
            plot: Plot {
                left,
                right: width - 26.0,
                top: key.height + 34.0,
                bottom: key.height + 34.0 + rise,
            },
            ticks,
            key,
            width,
            place,
        }
    }

    /// The same with a taller plot.
    pub(super) fn taller(mut self, by: f64) -> Self {
        self.plot.bottom += by;
        self
    }

    /// A drawing that has its key and its heading.
    pub(super) fn open(&self, heading: &str) -> Drawing {
        let mut drawing = Drawing::default();
        self.key.draw(&mut drawing);
        let above = (4.0, self.plot.top - 14.0);
        drawing.text("soft", above, Anchor::Start, heading);
        drawing
    }

    /// The finished drawing, with this much room below the plot.
    pub(super) fn close(
        &self,
        drawing: Drawing,
        below: f64,
        id: &str,
        title: &str,
        reading: &str,
    ) -> String {
        drawing.finish(
            &Caption {
                id,
                class: "chart",
                title,
                description: reading,
                size: (self.width, self.plot.bottom + below),
            },
            self.place,
        )
    }
}

/// A sample in words: pieces and how many failed.
pub(super) fn sample_words(lives: u64, failures: u64) -> String {
    format!(
        "{} with {}",
        figures::counted(lives, "piece", "pieces"),
        figures::counted(failures, "failure", "failures")
    )
}
