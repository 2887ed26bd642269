//! The time, as precise as the database keeps it: what is answered when a record is made is what is read back later.

use chrono::{DateTime, SubsecRound, Utc};

/// Now, to the microsecond.
#[must_use]
pub fn now() -> DateTime<Utc> {
    Utc::now().trunc_subsecs(6)
}
