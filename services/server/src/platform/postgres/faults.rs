//! From a database error to a problem: the names of constraints are the table's keys.

use crate::platform::http::codes::ProblemCode;
use crate::platform::http::problem::{FieldFault, Problem};
use diesel::result::{DatabaseErrorKind, Error};
use wearbook_domain::ids::ReadingId;

/// What a constraint means to the client.
struct Meaning {
    constraint: &'static str,
    code: ProblemCode,
    pointer: &'static str,
    message: &'static str,
}

const fn meaning(
    constraint: &'static str,
    code: ProblemCode,
    pointer: &'static str,
    message: &'static str,
) -> Meaning {
    Meaning {
        constraint,
        code,
        pointer,
        message,
    }
}

#[rustfmt::skip]
const MEANINGS: &[Meaning] = &[
    meaning("installations_component_overlap", ProblemCode::Overlap, "/component_id", "this component is fitted elsewhere during this time"),
    meaning("installations_position_overlap", ProblemCode::Overlap, "/position", "another component sits in this position during this time"),
    meaning("installations_removed_after_fitted", ProblemCode::OutsideInstallation, "/removed_at", "a removal lies after the fitting"),
    meaning("removals_once", ProblemCode::AlreadyRemoved, "/installation_id", "this installation has ended before"),
    meaning("usage_runs_backwards", ProblemCode::UsageRunsBackwards, "", "usage never runs backwards: a reading is at least what was read before plus what was logged since"),
    meaning("usage_readings_moment", ProblemCode::AlreadyExists, "/read_at", "this airframe has a reading at this moment"),
    meaning("failure_reports_inside_installation", ProblemCode::OutsideInstallation, "/occurred_at", "a failure lies between fitting and removal"),
    meaning("failure_reports_good_before", ProblemCode::InvalidRecord, "/last_known_good_at", "the last clean look lies before the failure"),
    meaning("failure_reports_mode", ProblemCode::InvalidRecord, "/mode", "the part type has no such failure mode"),
    meaning("airframes_pkey", ProblemCode::AlreadyExists, "/id", "an airframe has this id"),
    meaning("components_pkey", ProblemCode::AlreadyExists, "/id", "a component has this id"),
    meaning("installations_pkey", ProblemCode::AlreadyExists, "/id", "an installation has this id"),
    meaning("removals_pkey", ProblemCode::AlreadyExists, "/id", "a removal has this id"),
    meaning("flights_pkey", ProblemCode::AlreadyExists, "/id", "a record of flights has this id"),
    meaning("usage_readings_pkey", ProblemCode::AlreadyExists, "/id", "a reading has this id"),
    meaning("failure_reports_pkey", ProblemCode::AlreadyExists, "/id", "a failure report has this id"),
    meaning("aircraft_designs_key", ProblemCode::AlreadyExists, "/key", "a design has this key"),
    meaning("positions_key", ProblemCode::AlreadyExists, "/positions", "a position key stands once in a design"),
];

/// The names that the table knows, for the test that compares them with the database.
pub fn known_constraints() -> impl Iterator<Item = &'static str> {
    MEANINGS.iter().map(|row| row.constraint)
}

impl From<Error> for Problem {
    fn from(error: Error) -> Self {
        match &error {
            Error::NotFound => Self::not_found(),
            Error::DatabaseError(
                DatabaseErrorKind::ClosedConnection | DatabaseErrorKind::UnableToSendCommand,
                _,
            )
            | Error::BrokenTransactionManager => {
                tracing::warn!(%error, "the database went away");
                Self::unavailable()
            }
            Error::DatabaseError(DatabaseErrorKind::SerializationFailure, _) => Self::unavailable(),
            // Two writes that cross, such as imports of one fleet in another order: one goes through, the other is
            // undone and may come back. Diesel has no word for it.
            Error::DatabaseError(DatabaseErrorKind::Unknown, information)
                if information.message() == "deadlock detected" =>
            {
                tracing::warn!(%error, "two writes waited for each other");
                Self::unavailable()
            }
            Error::DatabaseError(_, information) => {
                let found = information
                    .constraint_name()
                    .and_then(|name| MEANINGS.iter().find(|row| row.constraint == name));
                match found {
                    Some(row) => {
                        // Our own triggers name the other record; PostgreSQL's own details would show ids of anybody.
                        let reading = information
                            .details()
                            .filter(|_| row.constraint == "usage_runs_backwards");
                        let value = reading
                            .and_then(|id| id.parse().ok())
                            .map(|id| ReadingId::from_uuid(id).to_string())
                            .unwrap_or_default();
                        let mut problem = Self::new(row.code, row.message);
                        problem.errors = vec![FieldFault::new(
                            row.pointer,
                            row.code.entry().key,
                            row.message,
                            value,
                        )];
                        problem
                    }
                    None => Self::internal(&error),
                }
            }
            _ => Self::internal(&error),
        }
    }
}
