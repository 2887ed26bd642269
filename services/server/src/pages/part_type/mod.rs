//! The page of one part type: the suggestion first, then what it rests on.

mod from_report;
mod view;

use askama::Template;

use super::charts::{CurveRow, probability_plot, survival_curve};
use super::figures;
use super::layout::{Here, Shell};

pub use view::{
    Answer, Basis, ModeRow, ModelRow, ModelTable, ParameterFigure, PartTypeView, PracticeRow,
    Provenance, RiskRow, RiskTable, ScaleLink,
};

#[derive(Template)]
#[template(path = "part_type.html")]
struct PartTypePage<'a> {
    shell: &'a Shell,
    here: Here,
    view: &'a PartTypeView,
}

impl PartTypePage<'_> {
    fn curve(&self) -> String {
        self.view
            .survival
            .as_ref()
            .map(survival_curve)
            .unwrap_or_default()
    }

    fn curve_rows(&self) -> Vec<CurveRow> {
        self.view
            .survival
            .as_ref()
            .map(|chart| chart.rows())
            .unwrap_or_default()
    }

    fn plot(&self) -> String {
        self.view
            .probability
            .as_ref()
            .map(probability_plot)
            .unwrap_or_default()
    }
}

/// Writes the page of one part type.
///
/// # Errors
/// Fails only when the template cannot be written out.
pub fn render(shell: &Shell, view: &PartTypeView) -> Result<String, askama::Error> {
    PartTypePage {
        shell,
        here: Here::Parts,
        view,
    }
    .render()
}
