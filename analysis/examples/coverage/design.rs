//! The designs simulated and how their samples are drawn.

use rand::Rng;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

/// How watching ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watching {
    /// Until every life has failed.
    ToFailure,
    /// Until a usage that is random and even between entry and the end of the study, in fortieths.
    Random,
    /// Until one fixed usage.
    FixedUsage,
    /// Until as many have failed as expected, so that their number is given.
    Count,
}

/// One design. Lives are Weibull with scale 1.
#[derive(Clone, Copy, Debug)]
pub struct Design {
    /// Failures expected.
    pub failures: u64,
    /// Share of lives expected not to fail while watched.
    pub censored: f64,
    /// How watching ends.
    pub watching: Watching,
    /// Half of the lives are watched only from a quarter or a half of the study on.
    pub late: bool,
    /// Failures are found only at looks, twenty over the study.
    pub looks: bool,
    /// Shape of the Weibull.
    pub shape: f64,
    /// Usage at which the study ends; infinite without censoring.
    end: f64,
}

const SHAPES: [f64; 4] = [0.8, 1.5, 3.0, 6.0];
const FAILURES: [u64; 4] = [5, 10, 20, 50];
/// Share of the study after which a life enters, where entry is late.
const ENTRIES: [f64; 4] = [0.0, 0.0, 0.25, 0.5];
const STEPS: u32 = 40;
const LOOKS: f64 = 20.0;

impl Design {
    /// Every design of the study.
    pub fn all() -> Vec<Self> {
        let mut all = Vec::new();
        let endings = [
            (0.0, Watching::ToFailure),
            (0.5, Watching::Random),
            (0.8, Watching::Random),
            (0.95, Watching::Random),
            (0.5, Watching::FixedUsage),
            (0.8, Watching::FixedUsage),
            (0.95, Watching::FixedUsage),
        ];
        for failures in FAILURES {
            for (censored, watching) in endings {
                for (late, looks) in [(false, false), (true, false), (false, true), (true, true)] {
                    all.extend(SHAPES.map(|shape| {
                        let mut design = Self {
                            failures,
                            censored,
                            watching,
                            late,
                            looks,
                            shape,
                            end: f64::INFINITY,
                        };
                        design.end = design.end_for();
                        design
                    }));
                }
            }
        }
        for failures in FAILURES {
            for censored in [0.5, 0.8, 0.95] {
                all.extend(SHAPES.map(|shape| Self {
                    failures,
                    censored,
                    watching: Watching::Count,
                    late: false,
                    looks: false,
                    shape,
                    end: f64::INFINITY,
                }));
            }
        }
        all
    }

    /// Whether the number of failures is given and not left to chance.
    pub fn given_number(&self) -> bool {
        matches!(self.watching, Watching::ToFailure | Watching::Count)
    }

    /// Lives in a sample.
    pub fn lives(&self) -> u64 {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at most 1000"
        )]
        let lives = (self.failures as f64 / (1.0 - self.censored)).round() as u64;
        lives
    }

    /// The true usage by which a tenth has failed.
    pub fn tenth(&self) -> f64 {
        (-(0.9_f64.ln())).powf(1.0 / self.shape)
    }

    /// The end at which the expected share censored is as stated.
    fn end_for(&self) -> f64 {
        if self.watching == Watching::ToFailure {
            return f64::INFINITY;
        }
        let (mut low, mut high) = (1e-9_f64, 1e9_f64);
        for _ in 0..200 {
            let middle = (low * high).sqrt();
            if self.share_failing(middle) < 1.0 - self.censored {
                low = middle;
            } else {
                high = middle;
            }
        }
        (low * high).sqrt()
    }

    fn share_failing(&self, end: f64) -> f64 {
        let mut total = 0.0;
        let mut cells = 0.0;
        for entry in self.entries(end) {
            for step in 1..=STEPS {
                let stop = match self.watching {
                    Watching::Random => entry + (end - entry) * f64::from(step) / f64::from(STEPS),
                    _ => end,
                };
                total -= (entry.powf(self.shape) - stop.powf(self.shape)).exp_m1();
                cells += 1.0;
            }
        }
        total / cells
    }

    fn entries(&self, end: f64) -> [f64; 4] {
        let study = if end.is_finite() {
            end
        } else {
            self.nearly_all()
        };
        ENTRIES.map(|entry| if self.late { entry * study } else { 0.0 })
    }

    /// The usage by which nine tenths have failed, the length of a study without end.
    fn nearly_all(&self) -> f64 {
        10.0_f64.ln().powf(1.0 / self.shape)
    }

    /// One sample.
    pub fn sample(&self, random: &mut impl Rng) -> Sample {
        if self.watching == Watching::Count {
            return self.stopped_sample(random);
        }
        let entries = self.entries(self.end);
        let gap = if self.end.is_finite() {
            self.end
        } else {
            self.nearly_all()
        } / LOOKS;
        let lives = (0..self.lives()).map(|_| {
            let entry = entries
                .get(random.random_range(0..4_usize))
                .copied()
                .unwrap_or(0.0);
            let gained = -(-random.random::<f64>()).ln_1p();
            let at = (entry.powf(self.shape) + gained).powf(1.0 / self.shape);
            let stop = match self.watching {
                Watching::Random => {
                    let step = random.random_range(1..=STEPS);
                    entry + (self.end - entry) * f64::from(step) / f64::from(STEPS)
                }
                _ => self.end,
            };
            let seen = if at > stop {
                Observation::right_censored(stop)
            } else if self.looks {
                let before = (at / gap).floor();
                Observation::interval((before * gap).max(entry), ((before + 1.0) * gap).min(stop))
            } else {
                Observation::exact(at)
            };
            seen.entered_at(entry)
        });
        Sample::new(lives).expect("valid lives")
    }
    /// Lives from new, all withdrawn at the usage of the last failure waited for.
    fn stopped_sample(&self, random: &mut impl Rng) -> Sample {
        let mut lives: Vec<f64> = (0..self.lives())
            .map(|_| (-(-random.random::<f64>()).ln_1p()).powf(1.0 / self.shape))
            .collect();
        lives.sort_by(f64::total_cmp);
        let failed = usize::try_from(self.failures).expect("few");
        let last = lives[failed - 1];
        Sample::new(lives.iter().enumerate().map(|(place, at)| {
            if place < failed {
                Observation::exact(*at)
            } else {
                Observation::right_censored(last)
            }
        }))
        .expect("valid lives")
    }
}
