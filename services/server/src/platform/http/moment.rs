//! Times that a record may state.

use super::problem::Problem;
use chrono::{DateTime, Duration, Utc};

/// Refuses what has not happened yet. A day of grace forgives a wrong clock at the field.
///
/// # Errors
/// `invalid-record` at `pointer`.
pub fn not_in_future(pointer: &str, moment: DateTime<Utc>, now: DateTime<Utc>) -> Result<(), Problem> {
    let earliest = DateTime::<Utc>::UNIX_EPOCH;
    if moment > now + Duration::days(1) || moment < earliest {
        return Err(Problem::invalid(pointer, "past", "a time between 1970 and now", moment.to_rfc3339()));
    }
    Ok(())
}
