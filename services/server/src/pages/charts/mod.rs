//! Small charts drawn as SVG text.
//!
//! A chart carries a name, a description and classes only: the pages' content policy forbids style
//! attributes, so all looks come from the style sheet. The `.._file` functions embed the same looks
//! for a picture that stands alone on a disk.
//!
//! Lines are told apart by dash and by label, never by colour alone, and each chart is drawn twice,
//! for wide and for narrow screens, so that its letters keep their size.

mod at_risk;
mod axis;
mod chart;
mod drawing;
mod from_report;
mod groups;
mod hazard;
mod incidence;
mod key;
mod life_bar;
mod looks;
mod mean_cumulative;
mod paper;
mod probability;
mod rows;
mod steps;
mod survival;
mod ticks;

pub use at_risk::AtRisk;
pub use chart::{Chart, ChartTable, for_file, for_page};
pub use drawing::Place;
pub use from_report::{decile, family_name, model_survival};
pub use groups::{GroupCurve, GroupsChart};
pub use hazard::{HazardChart, HazardPlace};
pub use incidence::{CauseCurve, IncidenceChart};
pub use life_bar::{LifeAxis, LifeBar, life_axis, life_bar};
pub use mean_cumulative::MeanCumulativeChart;
pub use paper::Paper;
pub use probability::{
    FittedLine, PlotPoint, ProbabilityChart, QuantileBand, probability_plot, probability_plot_file,
};
pub use rows::{CurveRow, Written};
pub use steps::StepPoint;
pub use survival::{CurvePoint, Overlay, SurvivalChart, survival_curve, survival_curve_file};

#[cfg(test)]
mod tests;
