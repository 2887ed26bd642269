//! What is asked of lives.

use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::report::Options;

/// What is asked of lives.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Families to fit, in the order of the answer.
    pub families: Vec<Family>,
    /// Only failures of this cause count; a failure of another cause ends its life unfailed.
    pub cause: Option<String>,
    /// Confidence of all limits.
    pub level: Level,
    /// Shares failed at which models state their age.
    pub shares: Vec<f64>,
}

impl Default for Question {
    fn default() -> Self {
        let usual = Options::default();
        Self {
            families: usual.families,
            cause: None,
            level: usual.level,
            shares: usual.shares,
        }
    }
}

impl Question {
    pub(super) fn options(&self) -> Options {
        Options {
            shares: self.shares.clone(),
            families: self.families.clone(),
            ..Options::at(self.level)
        }
    }
}

/// A question that these lives cannot be asked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuestionFault {
    /// No failure has this cause.
    #[error("the cause of one of the failures: {}", known_causes(known))]
    UnknownCause {
        /// The causes that failures have.
        known: Vec<String>,
    },
}

fn known_causes(known: &[String]) -> String {
    if known.is_empty() {
        "none of them has a cause".to_owned()
    } else {
        known.join(", ")
    }
}
