//! What every chart can do: be drawn for a page or a file, say what it shows, and be read as a table.

use super::drawing::Place;
use super::rows::Written;

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

/// Width of a drawing, height of its plot, and about how many ticks fit across.
pub(super) fn sheet(place: Place) -> (f64, f64, f64) {
    match place {
        Place::Narrow => (358.0, 250.0, 4.0),
        Place::Wide | Place::File => (720.0, 300.0, 8.0),
    }
}
