//! Enter an aircraft design with its positions.

use super::store::{self, DesignRow, PositionRow};
use super::view::DesignView;
use crate::access::{Acting, EditCatalogue};
use crate::platform::clock;
use crate::platform::http::body::Body;
use crate::platform::http::problem::{FieldFault, Problem};
use crate::platform::http::text::{Line, Slug};
use crate::platform::http::write::{Created, WriteParameters, create};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wearbook_domain::ids::{DesignId, PositionId};
use wearbook_domain::vocabulary::Drive;
use wearbook_domain::{DesignKey, PartTypeKey, catalogue};

/// A new design.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DesignDraft {
    /// Key; it cannot be changed later.
    pub key: DesignKey,
    /// Name.
    #[schema(example = "Feldspar (invented)")]
    pub name: Line<120>,
    /// Main rotor diameter class.
    #[schema(minimum = 100, maximum = 3000, required = false)]
    pub rotor_class_mm: Option<f64>,
    /// How the main rotor is driven.
    #[schema(required = false)]
    pub drive: Option<Drive>,
    /// True for a design made up for demonstration.
    #[serde(default)]
    #[schema(required = false)]
    pub invented: bool,
    /// Where components sit.
    #[schema(min_items = 1, max_items = 500)]
    pub positions: Vec<PositionDraft>,
}

/// A new position.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PositionDraft {
    /// Key, unique within the design.
    #[schema(example = "tail-belt")]
    pub key: Slug<60>,
    /// Name.
    #[schema(example = "Tail drive belt")]
    pub name: Line<120>,
    /// What sits there.
    pub part_type: PartTypeKey,
}

/// Enters a design in the caller's transaction.
///
/// # Errors
/// `invalid-record` naming every unknown part type, `already-exists` for a key in use.
pub async fn create_design(
    connection: &mut Connection,
    draft: DesignDraft,
    id: DesignId,
    now: DateTime<Utc>,
) -> Result<DesignView, Problem> {
    let unknown: Vec<FieldFault> = draft
        .positions
        .iter()
        .enumerate()
        .filter(|(_, position)| catalogue().part_type(&position.part_type).is_none())
        .map(|(index, position)| {
            FieldFault::new(
                format!("/positions/{index}/part_type"),
                "exists",
                "a part type of the catalogue",
                &position.part_type,
            )
        })
        .collect();
    if !unknown.is_empty() {
        return Err(Problem::invalid_all(unknown));
    }
    let row = DesignRow {
        id: id.uuid(),
        key: draft.key.to_string(),
        name: draft.name.into(),
        rotor_class_mm: draft.rotor_class_mm,
        drive: draft.drive.map(|drive| drive.code().to_owned()),
        invented: draft.invented,
        created_at: now,
    };
    let places: Vec<PositionRow> = draft
        .positions
        .into_iter()
        .map(|position| PositionRow {
            id: PositionId::new_at(now).uuid(),
            design_id: row.id,
            key: position.key.into(),
            name: position.name.into(),
            part_type_key: position.part_type.to_string(),
        })
        .collect();
    store::insert_design(connection, &row, &places).await?;
    DesignView::of(row, places)
}

/// Enters a design.
#[utoipa::path(
    post, path = "/v1/aircraft-designs", operation_id = "create_aircraft_design", tag = "catalogue",
    summary = "Enter an aircraft design", description = "Enters a design with its positions. Each position takes components of one part type.",
    params(WriteParameters),
    request_body = DesignDraft,
    responses((status = 201, description = "The new design", body = DesignView)),
    security(("token" = ["edit-catalogue"]))
)]
pub async fn post(
    acting: Acting<EditCatalogue>,
    body: Body<DesignDraft>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    create(
        &pool,
        &request,
        acting.token.uuid(),
        &body.fingerprint,
        async |connection: &mut Connection| {
            let now = clock::now();
            let view = create_design(connection, body.value, DesignId::new_at(now), now).await?;
            Ok(Created {
                location: format!("/v1/aircraft-designs/{}", view.key),
                view,
            })
        },
    )
    .await
}
