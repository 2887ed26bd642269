//! Small charts drawn as SVG text.
//!
//! A chart carries a name, a description and classes only: the pages' content policy forbids style
//! attributes, so all looks come from the style sheet. The `.._file` functions embed the same looks
//! for a picture that stands alone on a disk.
//!
//! Lines are told apart by dash and by label, never by colour alone, and each chart is drawn twice,
//! for wide and for narrow screens, so that its letters keep their size.

mod axis;
mod drawing;
mod from_report;
mod key;
mod life_bar;
mod looks;
mod probability;
mod rows;
mod survival;

pub use from_report::{decile, family_name, model_survival};
pub use life_bar::{LifeAxis, LifeBar, life_axis, life_bar};
pub use probability::{
    PlotPoint, ProbabilityChart, QuantileBand, WeibullLine, probability_plot, probability_plot_file,
};
pub use rows::{CurveRow, Written};
pub use survival::{CurvePoint, Overlay, SurvivalChart, survival_curve, survival_curve_file};

#[cfg(test)]
mod tests;
