//! Fit a component into a position.

use super::ownership::{own_airframe, own_component};
use super::store::{self, InstallationRow};
use super::view::InstallationView;
use crate::access::{Acting, Actor, WriteRecords};
use crate::catalogue::find_position;
use crate::events::Event;
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::moment::not_in_future;
use crate::platform::http::problem::Problem;
use crate::platform::http::text::Slug;
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::{AirframeId, ComponentId, InstallationId};
use wearbook_domain::units::{FlightMinutes, RotorKiloRevolutions, Usage};
use wearbook_domain::vocabulary::AgeBasis;

/// A component goes into a position.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InstallationDraft {
    /// Your own id for it, for records made offline; made here when absent.
    #[schema(required = false)]
    pub id: Option<InstallationId>,
    /// What is fitted.
    pub component_id: ComponentId,
    /// Where.
    pub airframe_id: AirframeId,
    /// In which position of the airframe's design.
    pub position: Slug<60>,
    /// When.
    pub fitted_at: DateTime<Utc>,
    /// What is known of its age. Only for the first fitting: later its age is carried on. `new` when absent.
    #[schema(required = false)]
    pub age_basis: Option<AgeBasis>,
    /// Its age, with `known`.
    #[schema(required = false)]
    pub age_when_fitted: Option<Usage>,
}

/// The word for the column, after the rules of age were checked.
fn age_basis(draft: &InstallationDraft, fitted_before: bool) -> Result<&'static str, Problem> {
    if fitted_before && (draft.age_basis.is_some() || draft.age_when_fitted.is_some()) {
        let given = draft.age_basis.map_or("an age", AgeBasis::code);
        return Err(Problem::invalid(
            "/age_basis",
            "carried-on",
            "absent: a component that was fitted before carries its age on",
            given,
        ));
    }
    let basis = draft.age_basis.unwrap_or(AgeBasis::New);
    if (basis == AgeBasis::Known) != draft.age_when_fitted.is_some() {
        return Err(Problem::invalid(
            "/age_when_fitted",
            "age-basis",
            "present exactly when age_basis is known",
            basis.code(),
        ));
    }
    Ok(if fitted_before {
        "carried-on"
    } else {
        basis.code()
    })
}

/// Fits a component in the caller's transaction.
///
/// # Errors
/// `invalid-record` for what is not the caller's, not a position of the design or not of its part type; `overlap` when the
/// component or the position is taken.
pub async fn install(
    connection: &mut Connection,
    actor: &Actor,
    draft: InstallationDraft,
    now: DateTime<Utc>,
) -> Result<InstallationView, Problem> {
    let fitted_at = not_in_future("/fitted_at", draft.fitted_at, now)?;
    let component = own_component(connection, actor, draft.component_id).await?;
    let airframe = own_airframe(connection, actor, draft.airframe_id).await?;
    let position = find_position(connection, draft.airframe_id, &draft.position)
        .await?
        .ok_or_else(|| {
            Problem::invalid(
                "/position",
                "exists",
                "a position of the airframe's design",
                &*draft.position,
            )
        })?;
    if position.part_type_key != component.part_type_key {
        return Err(Problem::invalid(
            "/component_id",
            "part-type",
            format!("a component of part type {}", position.part_type_key),
            component.part_type_key,
        ));
    }
    let basis = age_basis(&draft, store::was_fitted(connection, component.id).await?)?;
    let age = draft.age_when_fitted;
    let row = InstallationRow {
        id: draft
            .id
            .unwrap_or_else(|| InstallationId::new_at(now))
            .uuid(),
        owner_id: airframe.owner_id,
        component_id: component.id,
        airframe_id: airframe.id,
        position_id: position.id,
        fitted_at,
        age_basis: basis.to_owned(),
        age_flights: age.map(|age| age.flights.get()),
        age_flight_minutes: age
            .and_then(|age| age.flight_minutes)
            .map(FlightMinutes::get),
        age_rotor_krev: age
            .and_then(|age| age.rotor_krev)
            .map(RotorKiloRevolutions::get),
        removed_at: None,
        created_at: now,
    };
    store::insert_installations(connection, std::slice::from_ref(&row)).await?;
    Event::ComponentHistoryChanged(draft.component_id)
        .record(connection)
        .await?;
    row.try_into()
}

/// Fits a component.
#[utoipa::path(
    post, path = "/v1/installations", operation_id = "install_component", tag = "fleet",
    summary = "Fit a component", description = "A component goes into a position of an airframe. It ends with a removal.",
    params(WriteParameters),
    request_body = InstallationDraft,
    responses((status = 201, description = "The new installation", body = InstallationView)),
    security(("token" = ["write-records"]))
)]
pub async fn post(
    acting: Acting<WriteRecords>,
    body: Body<InstallationDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let view = install(connection, &acting, body.value, clock::now()).await?;
            Ok(Created {
                location: format!("/v1/installations/{}", view.id),
                view,
            })
        },
    )
    .await
}
