//! Curves that stand still between the ages at which they step, with the band around them.

use super::axis::Scale;
use super::drawing::Trace;

/// Marks closer than this are one mark to the eye.
pub(super) const FINEST: f64 = 0.4;

/// One step of a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepPoint {
    /// The age of the step.
    pub time: f64,
    /// What the curve is at after it.
    pub value: f64,
    /// Lower limit, where there is one.
    pub lower: Option<f64>,
    /// Upper limit, where there is one.
    pub upper: Option<f64>,
}

/// A stretch of age over which the curve stands still.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) value: f64,
    pub(super) limits: Option<(f64, f64)>,
}

/// The stretches of a curve that starts at `start` at age zero and is known up to `end`.
pub(super) fn steps_of(
    points: impl IntoIterator<Item = StepPoint>,
    start: f64,
    end: f64,
) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut open = Step {
        from: 0.0,
        to: 0.0,
        value: start,
        limits: Some((start, start)),
    };
    for point in points {
        open.to = point.time;
        steps.push(open);
        open = Step {
            from: point.time,
            to: point.time,
            value: point.value,
            limits: point.lower.zip(point.upper),
        };
    }
    open.to = end.max(open.from);
    steps.push(open);
    steps
}

/// The curve itself, without corners that no screen shows.
pub(super) fn stairs(steps: &[Step], across: &Scale, up: &Scale) -> Trace {
    let mut trace = Trace::default();
    let mut drawn: Option<(f64, f64)> = None;
    for step in steps {
        let place = (across.place(step.from), up.place(step.value));
        match drawn {
            None => {
                trace.move_to(place);
                drawn = Some(place);
            }
            Some((x, y)) if place.0 - x > FINEST || (place.1 - y).abs() > FINEST => {
                trace.across_to(place.0);
                trace.down_to(place.1);
                drawn = Some(place);
            }
            Some(_) => {}
        }
    }
    if let Some(last) = steps.last() {
        trace.down_to(up.place(last.value));
        trace.across_to(across.place(last.to));
    }
    trace
}

/// One closed outline for each run of steps that have both limits.
pub(super) fn bands(steps: &[Step], across: &Scale, up: &Scale) -> Vec<Trace> {
    steps
        .split(|step| step.limits.is_none())
        .filter(|run| !run.is_empty())
        .map(|run| outline(run, across, up))
        .collect()
}

fn outline(run: &[Step], across: &Scale, up: &Scale) -> Trace {
    let corners: Vec<_> = run
        .iter()
        .filter_map(|step| {
            let (lower, upper) = step.limits?;
            let ends = (across.place(step.from), across.place(step.to));
            Some((ends, up.place(lower), up.place(upper)))
        })
        .collect();
    let mut trace = Trace::default();
    for (number, ((from, to), _, upper)) in corners.iter().enumerate() {
        if number == 0 {
            trace.move_to((*from, *upper));
        } else {
            trace.down_to(*upper);
        }
        trace.across_to(*to);
    }
    for ((from, _), lower, _) in corners.iter().rev() {
        trace.down_to(*lower);
        trace.across_to(*from);
    }
    trace.close();
    trace
}
