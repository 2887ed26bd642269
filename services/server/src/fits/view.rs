//! Fits as the API shows them.

use super::store::{FitHead, FitRow};
use crate::platform::http::problem::Problem;
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use wearbook_analysis::report::Report;
use wearbook_domain::PartTypeKey;
use wearbook_domain::ids::FitId;
use wearbook_domain::units::WearScale;

/// A fit in a list.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = FitHead)]
pub struct FitHeadView {
    /// Id.
    pub id: FitId,
    /// Whose lives.
    pub part_type: PartTypeKey,
    /// On which scale.
    pub scale: WearScale,
    /// The engine that made it.
    #[schema(max_length = 100)]
    pub engine_version: String,
    /// SHA-256 of the lives it was made from.
    #[schema(max_length = 64)]
    pub data_digest: String,
    /// The moment up to which records were read.
    pub data_as_of: DateTime<Utc>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
}

/// The result of fitting every model to one population at one moment. Immutable.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Fit)]
pub struct FitView {
    /// What and when.
    pub head: FitHeadView,
    /// The result.
    pub report: Report,
}

impl TryFrom<FitHead> for FitHeadView {
    type Error = Problem;

    fn try_from(
        (id, part_type, scale, engine_version, data_digest, data_as_of, created_at): FitHead,
    ) -> Result<Self, Problem> {
        Ok(Self {
            id: FitId::from_uuid(id),
            part_type: part_type.parse().map_err(Problem::internal)?,
            scale: scale.parse().map_err(Problem::internal)?,
            engine_version,
            data_digest,
            data_as_of,
            created_at,
        })
    }
}

impl TryFrom<FitRow> for FitView {
    type Error = Problem;

    fn try_from(row: FitRow) -> Result<Self, Problem> {
        Ok(Self {
            report: serde_json::from_str(&row.report).map_err(Problem::internal)?,
            head: FitHeadView::try_from((
                row.id,
                row.part_type_key,
                row.scale,
                row.engine_version,
                row.data_digest,
                row.data_as_of,
                row.created_at,
            ))?,
        })
    }
}
