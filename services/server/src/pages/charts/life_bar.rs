//! A tiny bar for a table row: an age with its limits on an axis that all rows share.

use super::axis::{Scale, round_ratios};
use super::drawing::{Anchor, Caption, Drawing, Place};
use crate::pages::figures::{self, Estimate};

const WIDTH: f64 = 208.0;
const HEIGHT: f64 = 22.0;
const EDGE: f64 = 20.0;

/// The logarithmic axis that the bars of a table share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LifeAxis {
    from: f64,
    to: f64,
}

impl LifeAxis {
    /// Round ends that hold every figure; `None` when no figure is above zero.
    #[must_use]
    pub fn holding(figures: impl IntoIterator<Item = f64>) -> Option<Self> {
        let mut ends: Option<(f64, f64)> = None;
        for figure in figures.into_iter().filter(|f| f.is_finite() && *f > 0.0) {
            let (low, high) = ends.unwrap_or((figure, figure));
            ends = Some((low.min(figure), high.max(figure)));
        }
        let (low, high) = ends?;
        let below = 10_f64.powf(low.log10().floor());
        let above = 10_f64.powf(high.log10().ceil());
        let from = [5.0, 2.0, 1.0].map(|lead| lead * below);
        let to = [0.2, 0.5, 1.0].map(|lead| lead * above);
        let from = from.into_iter().find(|end| *end <= low).unwrap_or(below);
        let to = to.into_iter().find(|end| *end >= high).unwrap_or(above);
        Some(Self {
            from,
            to: if to > from { to } else { from * 10.0 },
        })
    }

    fn scale(&self) -> Scale {
        Scale::logarithmic((self.from, self.to), (EDGE, WIDTH - EDGE))
    }

    fn ticks(&self) -> Vec<f64> {
        round_ratios(self.from, self.to, 5)
    }
}

/// One row's bar.
#[derive(Debug, Clone, PartialEq)]
pub struct LifeBar {
    /// Unique within the page.
    pub id: String,
    /// What the bar is about, such as "Tail drive belt".
    pub subject: String,
    /// The unit written after the figures.
    pub unit: &'static str,
    /// The age by which 10 in 100 have failed.
    pub estimate: Estimate,
    /// The suggested renewal, drawn as an upright stroke.
    pub renew_by: Option<f64>,
}

/// Draws the band between the limits, a dot at the estimate and a stroke at the renewal.
#[must_use]
pub fn life_bar(bar: &LifeBar, axis: &LifeAxis) -> String {
    let scale = axis.scale();
    let middle = HEIGHT / 2.0;
    let mut drawing = Drawing::default();
    for tick in axis.ticks() {
        let x = scale.place(tick);
        drawing.line("grid", (x, 0.0), (x, HEIGHT));
    }
    let low = scale.place(bar.estimate.lower.unwrap_or(axis.from));
    // A limit far beyond every estimate is cut at the end of the axis; its figure stands beside the bar.
    let high = scale.place(bar.estimate.upper.unwrap_or(axis.to).min(axis.to));
    drawing.rectangle("band", (low, middle - 4.0), (high - low, 8.0));
    if let Some(renewal) = bar.renew_by {
        let x = scale.place(renewal);
        drawing.line("tick", (x, 2.0), (x, HEIGHT - 2.0));
    }
    drawing.circle("at", (scale.place(bar.estimate.value), middle), 3.5);
    drawing.finish(
        &Caption {
            id: &bar.id,
            class: "life-bar",
            title: &format!("{}: bar of the figures beside", bar.subject),
            description: &format!(
                "Limits {} {}, on an axis from {} to {}",
                bar.estimate.limits_text(),
                bar.unit,
                figures::age(axis.from),
                figures::age(axis.to)
            ),
            size: (WIDTH, HEIGHT),
        },
        Place::Wide,
    )
}

/// Draws the axis once, for the head of the column of bars.
#[must_use]
pub fn life_axis(axis: &LifeAxis, unit: &str) -> String {
    let scale = axis.scale();
    let mut drawing = Drawing::default();
    for tick in axis.ticks() {
        let x = scale.place(tick);
        drawing.text("soft", (x, 12.0), Anchor::Middle, &figures::age(tick));
        drawing.line("axis", (x, 17.0), (x, HEIGHT));
    }
    drawing.finish(
        &Caption {
            id: "life-axis",
            class: "life-bar",
            title: &format!("Axis of the bars below, in {unit}"),
            description: &format!(
                "Logarithmic, from {} to {}",
                figures::age(axis.from),
                figures::age(axis.to)
            ),
            size: (WIDTH, HEIGHT),
        },
        Place::Wide,
    )
}
