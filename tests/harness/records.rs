//! Records that tests write: an invented design, and one component's way through it.

use chrono::{DateTime, Duration, TimeZone, Utc};
use serde_json::{Value, json};
use uuid::Uuid;
use wearbook_domain::vocabulary::Scope;

use crate::Service;

/// A part type whose usual scale is flight minutes, with the mode [`MODE`].
pub const PART_TYPE: &str = "motor-bearing";
/// A failure mode of [`PART_TYPE`].
pub const MODE: &str = "rough";

/// A new identifier of version 7 with a prefix, such as `cmp`.
#[must_use]
pub fn fresh(prefix: &str) -> String {
    format!("{prefix}_{}", Uuid::now_v7().simple())
}

/// Minutes after ten o'clock on a day in 2024, as the API writes it.
#[must_use]
pub fn at(minutes: i64) -> String {
    let start: DateTime<Utc> = Utc
        .with_ymd_and_hms(2024, 3, 1, 10, 0, 0)
        .single()
        .unwrap_or_default();
    (start + Duration::minutes(minutes)).to_rfc3339()
}

/// Enters an invented design with `positions` places `place-1`, `place-2` .. for `part_type`; its key.
pub async fn enter_design(service: &Service, part_type: &str, positions: usize) -> String {
    let token = service.token(&[Scope::EditCatalogue]).await;
    let key = format!("test-rig-{}", Uuid::now_v7().simple());
    let places: Vec<Value> = (1..=positions)
        .map(|number| json!({"key": format!("place-{number}"), "name": format!("Place {number}"), "part_type": part_type}))
        .collect();
    let body =
        json!({"key": key, "name": "Test rig (invented)", "invented": true, "positions": places});
    let _ = service.create(&token, "/v1/aircraft-designs", &body).await;
    key
}

/// One owner's helicopter with one component in it.
#[derive(Debug, Clone)]
pub struct Fleet {
    /// The owner's token: keeps records, reads everything.
    pub token: String,
    /// Key of the design; it has the places `place-1` to `place-3`.
    pub design: String,
    /// The airframe.
    pub airframe: String,
    /// The component.
    pub component: String,
    /// The component's stay in `place-1`, since [`at`]`(0)`.
    pub installation: String,
}

impl Fleet {
    /// Enters a design, an airframe, a component and its installation.
    pub async fn enter(service: &Service) -> Self {
        let design = enter_design(service, PART_TYPE, 3).await;
        Self::enter_with(service, &design, service.pilot().await).await
    }

    /// The same on a design that is there.
    pub async fn enter_with(service: &Service, design: &str, token: String) -> Self {
        let airframe = json!({"design": design, "name": "Airframe (invented)"});
        let airframe = id_of(&service.create(&token, "/v1/airframes", &airframe).await);
        let component = enter_component(service, &token).await;
        let body = installation(&component, &airframe, "place-1", 0);
        let installation = id_of(&service.create(&token, "/v1/installations", &body).await);
        Self {
            token,
            design: design.to_owned(),
            airframe,
            component,
            installation,
        }
    }
}

/// Enters a component of [`PART_TYPE`]; its id.
pub async fn enter_component(service: &Service, token: &str) -> String {
    id_of(
        &service
            .create(token, "/v1/components", &json!({"part_type": PART_TYPE}))
            .await,
    )
}

/// The `id` of a record.
///
/// # Panics
/// If it has none.
#[must_use]
pub fn id_of(record: &Value) -> String {
    record["id"]
        .as_str()
        .unwrap_or_else(|| panic!("no id in {record}"))
        .to_owned()
}

/// A body for `/v1/installations`.
#[must_use]
pub fn installation(component: &str, airframe: &str, position: &str, minutes: i64) -> Value {
    json!({"component_id": component, "airframe_id": airframe, "position": position, "fitted_at": at(minutes)})
}

/// A body for `/v1/flights`: one flight.
#[must_use]
pub fn flight(airframe: &str, minutes: i64, duration: f64) -> Value {
    json!({"airframe_id": airframe, "flown_at": at(minutes), "duration_minutes": duration})
}

/// A body for `/v1/usage-readings`.
#[must_use]
pub fn reading(airframe: &str, minutes: i64, flights: u32, flight_minutes: f64) -> Value {
    json!({"airframe_id": airframe, "read_at": at(minutes), "usage": {"flights": flights, "flight_minutes": flight_minutes}})
}

/// A body for `/v1/removals`.
#[must_use]
pub fn removal(installation: &str, minutes: i64, reason: &str) -> Value {
    json!({"installation_id": installation, "removed_at": at(minutes), "reason": reason})
}

/// A body for `/v1/failure-reports`.
#[must_use]
pub fn failure(installation: &str, minutes: i64) -> Value {
    json!({"installation_id": installation, "occurred_at": at(minutes), "discovery": "in-flight", "mode": MODE})
}
