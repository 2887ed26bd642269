//! Import records. Every record carries its own id, so that they can refer to each other and a repeated import changes nothing.

use super::order::{FleetStep, fleet_steps};
use crate::access::{Acting, Actor, WriteRecords};
use crate::failures::{FailureDraft, known_failures, report_failure};
use crate::fleet::{
    AirframeDraft, ComponentDraft, InstallationDraft, RemovalDraft, create_airframe,
    create_component, install, remove,
};
use crate::fleet::{known_airframes, known_components, known_installations, known_removals};
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::codes::ProblemCode;
use crate::platform::http::problem::{FieldFault, Problem};
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use crate::usage::{
    FlightsDraft, ReadingDraft, known_flights, known_readings, log_flights, take_reading,
};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use utoipa::ToSchema;
use uuid::Uuid;

/// The largest import in bytes.
pub const IMPORT_LIMIT: usize = 5 * 1024 * 1024;

/// Records of every kind. Each needs an `id` here.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ImportDraft {
    /// Airframes.
    #[schema(max_items = 10000, required = false)]
    pub airframes: Vec<AirframeDraft>,
    /// Components.
    #[schema(max_items = 10000, required = false)]
    pub components: Vec<ComponentDraft>,
    /// Usage readings.
    #[schema(max_items = 10000, required = false)]
    pub usage_readings: Vec<ReadingDraft>,
    /// Flights.
    #[schema(max_items = 10000, required = false)]
    pub flights: Vec<FlightsDraft>,
    /// Installations.
    #[schema(max_items = 10000, required = false)]
    pub installations: Vec<InstallationDraft>,
    /// Removals.
    #[schema(max_items = 10000, required = false)]
    pub removals: Vec<RemovalDraft>,
    /// Failure reports.
    #[schema(max_items = 10000, required = false)]
    pub failure_reports: Vec<FailureDraft>,
}

/// How many records an import made, and how many were there before.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
pub struct ImportSummary {
    /// Records that are new.
    pub created: usize,
    /// Records whose id was known already; nothing of them was changed.
    pub unchanged: usize,
}

/// Collects what is wrong; a fault of a constraint ends the import, since the transaction is over.
#[derive(Default)]
struct Faults(Vec<FieldFault>);

impl Faults {
    fn take<T>(&mut self, pointer: &str, outcome: Result<T, Problem>) -> Result<(), Problem> {
        match outcome {
            Ok(_) => Ok(()),
            Err(problem) if problem.code == ProblemCode::InvalidRecord => {
                self.0.extend(problem.under(pointer).errors);
                Ok(())
            }
            Err(problem) => Err(problem.under(pointer)),
        }
    }
}

/// The ids of a list; one without an id is a fault.
fn ids<T>(
    records: &[T],
    list: &str,
    id: impl Fn(&T) -> Option<Uuid>,
    faults: &mut Faults,
) -> Vec<Uuid> {
    let mut found = Vec::with_capacity(records.len());
    for (index, record) in records.iter().enumerate() {
        match id(record) {
            Some(id) => found.push(id),
            None => faults.0.push(FieldFault::new(
                format!("/{list}/{index}/id"),
                "required",
                "a record of an import carries its own id",
                "",
            )),
        }
    }
    found
}

/// Ids of an import that the instance has already.
struct Known {
    airframes: HashSet<Uuid>,
    components: HashSet<Uuid>,
    readings: HashSet<Uuid>,
    flights: HashSet<Uuid>,
    installations: HashSet<Uuid>,
    removals: HashSet<Uuid>,
    failures: HashSet<Uuid>,
}

impl Known {
    async fn load(
        connection: &mut Connection,
        actor: &Actor,
        draft: &ImportDraft,
    ) -> Result<Self, Problem> {
        let owners = actor.owner_uuids();
        let mut faults = Faults::default();
        let airframes = ids(
            &draft.airframes,
            "airframes",
            |one| one.id.map(|id| id.uuid()),
            &mut faults,
        );
        let components = ids(
            &draft.components,
            "components",
            |one| one.id.map(|id| id.uuid()),
            &mut faults,
        );
        let readings = ids(
            &draft.usage_readings,
            "usage_readings",
            |one| one.id.map(|id| id.uuid()),
            &mut faults,
        );
        let flights = ids(
            &draft.flights,
            "flights",
            |one| one.id.map(|id| id.uuid()),
            &mut faults,
        );
        let installations = ids(
            &draft.installations,
            "installations",
            |one| one.id.map(|id| id.uuid()),
            &mut faults,
        );
        let removals = ids(
            &draft.removals,
            "removals",
            |one| one.id.map(|id| id.uuid()),
            &mut faults,
        );
        let failures = ids(
            &draft.failure_reports,
            "failure_reports",
            |one| one.id.map(|id| id.uuid()),
            &mut faults,
        );
        if !faults.0.is_empty() {
            return Err(Problem::invalid_all(faults.0));
        }
        Ok(Self {
            airframes: known_airframes(connection, &owners, &airframes)
                .await?
                .into_iter()
                .collect(),
            components: known_components(connection, &owners, &components)
                .await?
                .into_iter()
                .collect(),
            readings: known_readings(connection, &owners, &readings)
                .await?
                .into_iter()
                .collect(),
            flights: known_flights(connection, &owners, &flights)
                .await?
                .into_iter()
                .collect(),
            installations: known_installations(connection, &owners, &installations)
                .await?
                .into_iter()
                .collect(),
            removals: known_removals(connection, &owners, &removals)
                .await?
                .into_iter()
                .collect(),
            failures: known_failures(connection, &owners, &failures)
                .await?
                .into_iter()
                .collect(),
        })
    }

    fn count(&self) -> usize {
        self.airframes.len()
            + self.components.len()
            + self.readings.len()
            + self.flights.len()
            + self.installations.len()
            + self.removals.len()
            + self.failures.len()
    }
}

fn is_new<T>(known: &HashSet<Uuid>, id: Option<T>, uuid: impl Fn(T) -> Uuid) -> bool {
    id.is_none_or(|id| !known.contains(&uuid(id)))
}

/// Enters every record that is new, in the caller's transaction.
///
/// # Errors
/// Every broken rule at once, with the place of the record; or the first fault of a constraint.
pub async fn import(
    connection: &mut Connection,
    actor: &Actor,
    draft: &ImportDraft,
    now: DateTime<Utc>,
) -> Result<ImportSummary, Problem> {
    let known = Known::load(connection, actor, draft).await?;
    let mut faults = Faults::default();
    for (index, one) in draft.airframes.iter().enumerate() {
        if is_new(&known.airframes, one.id, |id| id.uuid()) {
            let outcome = create_airframe(connection, actor, one.clone(), now).await;
            faults.take(&format!("/airframes/{index}"), outcome)?;
        }
    }
    for (index, one) in draft.components.iter().enumerate() {
        if is_new(&known.components, one.id, |id| id.uuid()) {
            let outcome = create_component(connection, actor, one.clone(), now).await;
            faults.take(&format!("/components/{index}"), outcome)?;
        }
    }
    for (index, one) in draft.usage_readings.iter().enumerate() {
        if is_new(&known.readings, one.id, |id| id.uuid()) {
            let outcome = take_reading(connection, actor, one.clone(), now).await;
            faults.take(&format!("/usage_readings/{index}"), outcome)?;
        }
    }
    for (index, one) in draft.flights.iter().enumerate() {
        if is_new(&known.flights, one.id, |id| id.uuid()) {
            let outcome = log_flights(connection, actor, one.clone(), now).await;
            faults.take(&format!("/flights/{index}"), outcome)?;
        }
    }
    for step in fleet_steps(draft) {
        match step {
            FleetStep::Removal(index) => {
                let Some(one) = draft.removals.get(index) else {
                    continue;
                };
                if is_new(&known.removals, one.id, |id| id.uuid()) {
                    let outcome = remove(connection, actor, one.clone(), now).await;
                    faults.take(&format!("/removals/{index}"), outcome)?;
                }
            }
            FleetStep::Installation(index) => {
                let Some(one) = draft.installations.get(index) else {
                    continue;
                };
                if is_new(&known.installations, one.id, |id| id.uuid()) {
                    let outcome = install(connection, actor, one.clone(), now).await;
                    faults.take(&format!("/installations/{index}"), outcome)?;
                }
            }
        }
    }
    for (index, one) in draft.failure_reports.iter().enumerate() {
        if is_new(&known.failures, one.id, |id| id.uuid()) {
            let outcome = report_failure(connection, actor, one.clone(), now).await;
            faults.take(&format!("/failure_reports/{index}"), outcome)?;
        }
    }
    if !faults.0.is_empty() {
        return Err(Problem::invalid_all(faults.0));
    }
    Ok(ImportSummary {
        created: draft.len() - known.count(),
        unchanged: known.count(),
    })
}

impl ImportDraft {
    /// How many records it holds.
    #[must_use]
    pub fn len(&self) -> usize {
        self.airframes.len()
            + self.components.len()
            + self.usage_readings.len()
            + self.flights.len()
            + self.installations.len()
            + self.removals.len()
            + self.failure_reports.len()
    }

    /// Whether it holds none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// Imports records.
#[utoipa::path(
    post, path = "/v1/imports", operation_id = "import_records", tag = "exchange",
    summary = "Import records",
    description = "Enters records of every kind, all or none. Each carries its own id (its prefix and a UUID of version 7), so that records refer to each other and a repeated import changes nothing. At most 5 MiB.",
    params(WriteParameters),
    request_body = ImportDraft,
    responses((status = 201, description = "What was entered", body = ImportSummary)),
    security(("token" = ["write-records"]))
)]
pub async fn post(
    acting: Acting<WriteRecords>,
    body: Body<ImportDraft, IMPORT_LIMIT>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = import(connection, &acting, &body.value, clock::now()).await?;
            Ok(Created {
                location: "/v1/components".into(),
                view,
            })
        },
    )
    .await
}
