//! Times that a record may state, as exactly as the database keeps them.

use super::problem::Problem;
use chrono::{DateTime, Duration, SubsecRound, Utc};

/// PostgreSQL keeps microseconds. What is finer is cut before it is shown, so that a record reads later as it was answered.
const DIGITS: u16 = 6;

/// A time as the database keeps it.
#[must_use]
pub fn as_kept(moment: DateTime<Utc>) -> DateTime<Utc> {
    moment.trunc_subsecs(DIGITS)
}

/// The moment as it is kept; refused if it has not happened yet. A day of grace forgives a wrong clock at the field.
///
/// # Errors
/// `invalid-record` at `pointer`.
pub fn not_in_future(
    pointer: &str,
    moment: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<DateTime<Utc>, Problem> {
    let earliest = DateTime::<Utc>::UNIX_EPOCH;
    if moment > now + Duration::days(1) || moment < earliest {
        return Err(Problem::invalid(
            pointer,
            "past",
            "a time between 1970 and now",
            moment.to_rfc3339(),
        ));
    }
    Ok(as_kept(moment))
}
