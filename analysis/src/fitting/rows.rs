//! A sample prepared for the likelihood: logarithms of usage about a centre.

use crate::observation::Ending;
use crate::sample::Sample;
use crate::summation::Sum;

/// Lives as the likelihood sees them. Usage is `exp(centre + y)`.
#[derive(Clone, Debug)]
pub(crate) struct Rows {
    pub centre: f64,
    pub rows: Vec<Row>,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct Row {
    pub count: f64,
    /// Watched and unfailed over this stretch; none where it is empty.
    pub unfailed: Option<Stretch>,
    pub end: End,
}

#[derive(Clone, Copy, Debug)]
pub(crate) enum End {
    Survived,
    FailedAt(f64),
    FailedWithin(Stretch),
}

/// A stretch of log usage. The width is kept apart because the difference of the ends loses it when they are close.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stretch {
    pub from: f64,
    pub to: f64,
    pub width: f64,
}

impl Rows {
    pub(crate) fn new(sample: &Sample) -> Self {
        let centre = centre(sample);
        let rows = sample
            .observations()
            .map(|row| Row {
                count: row.count as f64,
                unfailed: Stretch::new(row.entry, row.lower, centre),
                end: match row.ending() {
                    Ending::RightCensored => End::Survived,
                    Ending::Exact => End::FailedAt(row.upper.ln() - centre),
                    Ending::LeftCensored | Ending::IntervalCensored => {
                        match Stretch::new(row.lower, row.upper, centre) {
                            Some(stretch) => End::FailedWithin(stretch),
                            None => End::FailedAt(row.upper.ln() - centre),
                        }
                    }
                },
            })
            .collect();
        Self { centre, rows }
    }
}

impl Stretch {
    /// From usage `from >= 0` to usage `to`; none if empty.
    pub(crate) fn new(from: f64, to: f64, centre: f64) -> Option<Self> {
        if to <= from {
            return None;
        }
        let end = to.ln() - centre;
        if from <= 0.0 {
            return Some(Self {
                from: f64::NEG_INFINITY,
                to: end,
                width: f64::INFINITY,
            });
        }
        let width = ((to - from) / from).ln_1p();
        Some(Self {
            from: from.ln() - centre,
            to: end,
            width,
        })
    }
}

/// Mean log usage at the end of the lives.
fn centre(sample: &Sample) -> f64 {
    let (mut total, mut weight) = (Sum::default(), Sum::default());
    for row in sample.observations() {
        let at = if row.upper.is_finite() {
            row.upper
        } else {
            row.lower
        };
        if at > 0.0 {
            total.add(row.count as f64 * at.ln());
            weight.add(row.count as f64);
        }
    }
    let weight = weight.total();
    if weight > 0.0 {
        total.total() / weight
    } else {
        0.0
    }
}
