//! Survival curves of several groups in one drawing, with a table of those at risk below.

use super::at_risk::AtRisk;
use super::axis::{Plot, Scale, round_axis};
use super::chart::{Chart, ChartTable, Frame};
use super::drawing::{Anchor, Drawing, Place, Trace};
use super::key::{MOST_SERIES, Mark, series_class};
use super::rows::{Written, every};
use super::steps::{FINEST, stairs, steps_of};
use super::survival::{CurvePoint, falls};
use crate::pages::figures::{self, ScaleWords};

/// The curve of one group.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupCurve {
    /// The group in words.
    pub group: String,
    /// By rising age.
    pub points: Vec<CurvePoint>,
    /// Pieces in the group.
    pub lives: u64,
    /// Failures in the group.
    pub failures: u64,
    /// The oldest age seen, where the curve ends.
    pub longest: f64,
    /// From what those at risk are counted.
    pub at_risk: AtRisk,
}

/// What the curves of groups are drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupsChart {
    /// Unique within the page.
    pub id: String,
    /// What the lives belong to.
    pub subject: String,
    /// The unit of age.
    pub scale: ScaleWords,
    /// Beyond six they stand in the table only.
    pub groups: Vec<GroupCurve>,
    /// What a test says of the groups, as a sentence.
    pub comparison: Option<String>,
}

/// Height of a row of the table below.
const ROW: f64 = 19.0;

impl GroupsChart {
    fn drawn(&self) -> &[GroupCurve] {
        self.groups.get(..MOST_SERIES).unwrap_or(&self.groups)
    }

    fn entries(&self) -> Vec<(Mark, String)> {
        self.drawn()
            .iter()
            .enumerate()
            .map(|(number, group)| {
                let words = format!(
                    "{} ({} of {} failed)",
                    group.group,
                    figures::count(group.failures),
                    figures::count(group.lives)
                );
                (Mark::Series(number + 1), words)
            })
            .collect()
    }

    fn draw_risk_table(&self, drawing: &mut Drawing, across: &Scale, plot: &Plot, ticks: &[f64]) {
        let top = plot.bottom + 62.0;
        drawing.text("soft", (4.0, top), Anchor::Start, "At risk");
        let mut y = top;
        for (number, group) in self.drawn().iter().enumerate() {
            y += ROW;
            let class = series_class(number + 1);
            drawing.line(&class, (4.0, y - 4.5), (28.0, y - 4.5));
            drawing.text("", (34.0, y), Anchor::Start, &short(&group.group));
            let numbers = group.at_risk.numbers(&group.points, ticks);
            for (tick, number) in ticks.iter().zip(numbers.unwrap_or_default()) {
                let at = (across.place(*tick), y);
                drawing.text("", at, Anchor::Middle, &figures::count(number));
            }
        }
    }
}

/// A name cut to what fits beside the table.
fn short(name: &str) -> String {
    const MOST: usize = 9;
    if name.chars().count() > MOST {
        name.chars().take(MOST - 1).chain("…".chars()).collect()
    } else {
        name.to_owned()
    }
}

impl Chart for GroupsChart {
    fn title(&self) -> String {
        format!(
            "{}: share still working of each group against {}",
            self.subject, self.scale.unit
        )
    }

    fn reading(&self) -> String {
        let groups: Vec<String> = self
            .groups
            .iter()
            .map(|group| {
                format!(
                    "{} ({} of {} failed)",
                    group.group,
                    figures::count(group.failures),
                    figures::count(group.lives)
                )
            })
            .collect();
        let mut words = format!("Share still working at each age of {}.", groups.join(", "));
        if let Some(comparison) = &self.comparison {
            words.push(' ');
            words.push_str(comparison);
        }
        let left_out = self.drawn().iter();
        if let Some(why) = left_out
            .filter_map(|group| group.at_risk.reason(&group.points))
            .next()
        {
            words.push(' ');
            words.push_str(why);
        }
        words
    }

    fn table(&self) -> ChartTable {
        let heads = [
            "Group",
            &self.scale.axis_label(),
            "At risk",
            "Failed",
            "Still working",
            "Lower limit",
            "Upper limit",
        ];
        let counted = |value: Option<u64>| {
            Written::words(&value.map_or_else(|| "none".to_owned(), figures::count))
        };
        let rows = self.groups.iter().flat_map(|group| {
            let steps: Vec<CurvePoint> = group
                .points
                .iter()
                .copied()
                .filter(CurvePoint::is_step)
                .collect();
            every(&steps)
                .map(|point| {
                    vec![
                        Written::words(&group.group),
                        Written::of(Some(point.time), figures::age),
                        counted(point.at_risk),
                        counted(point.failed),
                        Written::of(Some(point.survival), figures::fraction),
                        Written::of(point.lower, figures::fraction),
                        Written::of(point.upper, figures::fraction),
                    ]
                })
                .collect::<Vec<_>>()
        });
        ChartTable {
            heads: heads.map(str::to_owned).to_vec(),
            rows: rows.collect(),
        }
    }

    fn draw(&self, place: Place) -> Option<String> {
        let oldest = self.drawn().iter().map(|group| group.longest);
        let oldest = oldest.filter(|age| age.is_finite()).fold(0.0, f64::max);
        if oldest <= 0.0 || self.drawn().iter().all(|group| group.points.is_empty()) {
            return None;
        }
        let frame = Frame::new(self.entries(), 104.0, place);
        let (plot, wanted) = (&frame.plot, frame.ticks);
        let (end, ticks) = round_axis(oldest, wanted - 1.0);
        let across = Scale::linear((0.0, end), (plot.left, plot.right));
        let up = Scale::linear((0.0, 1.0), (plot.bottom, plot.top));
        let heading = "Still working, in 100";
        let mut drawing = frame.open(heading);
        plot.draw_across(&mut drawing, &across, &ticks, &self.scale.axis_label());
        let shares = [0.0, 0.25, 0.5, 0.75, 1.0];
        let shares = shares.map(|share| (share, figures::age(share * 100.0)));
        plot.draw_up(&mut drawing, &up, shares);
        plot.draw_base(&mut drawing);
        for (number, group) in self.drawn().iter().enumerate() {
            let steps = steps_of(falls(&group.points), 1.0, group.longest);
            drawing.path(&series_class(number + 1), &stairs(&steps, &across, &up));
            drawing.path("tick", &last_sights(group, &across, &up));
        }
        self.draw_risk_table(&mut drawing, &across, plot, &ticks);
        let rows = self.drawn().iter().fold(0.0, |height, _| height + ROW);
        Some(frame.close(
            drawing,
            72.0 + rows,
            &self.id,
            &self.title(),
            &self.reading(),
        ))
    }
}

/// Short upright strokes where pieces were last seen working.
fn last_sights(group: &GroupCurve, across: &Scale, up: &Scale) -> Trace {
    let mut trace = Trace::default();
    let mut last = f64::NEG_INFINITY;
    for point in group.points.iter().filter(|point| point.is_last_sight()) {
        let (x, y) = (across.place(point.time), up.place(point.survival));
        if x - last > FINEST * 2.0 {
            trace.move_to((x, y - 4.0));
            trace.down_to(y + 4.0);
            last = x;
        }
    }
    trace
}
