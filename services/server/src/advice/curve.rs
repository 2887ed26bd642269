//! The survival curve of a part type, as JSON or CSV.

use super::part_type::resolve;
use crate::access::{Acting, ReadAdvice};
use crate::fits::newest;
use crate::platform::http::codes::ProblemCode;
use crate::platform::http::etag;
use crate::platform::http::path::Key;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::Query;
use crate::platform::http::reply;
use crate::platform::postgres::Pool;
use actix_web::http::header;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use wearbook_analysis::report::{CurveReport, Report};
use wearbook_domain::PartTypeKey;
use wearbook_domain::ids::FitId;
use wearbook_domain::units::WearScale;

/// On which scale.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct CurveParameters {
    /// The usage scale: the part type's usual one unless said.
    pub scale: Option<WearScale>,
}

/// A survival curve with what it was made from.
#[derive(Debug, Serialize, ToSchema)]
pub struct SurvivalCurveView {
    /// The part type.
    pub part_type: PartTypeKey,
    /// The scale of all times.
    pub scale: WearScale,
    /// Unit of all times.
    #[schema(max_length = 100)]
    pub unit: &'static str,
    /// The fit it belongs to.
    pub fit_id: FitId,
    /// How many lives.
    pub lives: u64,
    /// How many of them failed.
    pub failures: u64,
    /// The curve.
    pub curve: CurveReport,
}

fn wants_csv(request: &HttpRequest) -> Result<bool, Problem> {
    let accept = request
        .headers()
        .get(header::ACCEPT)
        .and_then(|value| value.to_str().ok())
        .unwrap_or("*/*");
    let mut forms = accept
        .split(',')
        .filter_map(|one| one.split(';').next())
        .map(str::trim);
    match forms.find(|form| {
        matches!(
            *form,
            "application/json" | "application/*" | "*/*" | "text/csv" | "text/*"
        )
    }) {
        Some(form) => Ok(form.starts_with("text/")),
        None => Err(Problem::new(
            ProblemCode::NotAcceptable,
            "The curve comes as application/json or text/csv.",
        )),
    }
}

fn csv_of(curve: &CurveReport) -> Result<String, Problem> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for point in &curve.points {
        writer.serialize(point).map_err(Problem::internal)?;
    }
    let bytes = writer.into_inner().map_err(Problem::internal)?;
    String::from_utf8(bytes).map_err(Problem::internal)
}

/// The survival curve of a part type.
#[utoipa::path(
    get, path = "/v1/part-types/{key}/survival-curve", operation_id = "show_survival_curve", tag = "advice",
    summary = "Show the survival curve",
    description = "The share still sound at each age, without assuming a model, with limits. JSON, or CSV with Accept: text/csv. 404 while there are no lives.",
    params(("key" = PartTypeKey, Path, description = "Key of the part type"), CurveParameters),
    responses((status = 200, description = "The curve", content(
        (SurvivalCurveView = "application/json"),
        (String = "text/csv")
    ), headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-advice"]))
)]
pub async fn get(
    _: Acting<ReadAdvice>,
    key: Key<PartTypeKey>,
    parameters: Query<CurveParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let as_csv = wants_csv(&request)?;
    let (part_type, scale) = resolve(&key.0, parameters.0.scale)?;
    let row = newest(
        &mut *pool.get().await?,
        part_type.key.as_str(),
        scale.code(),
    )
    .await?
    .ok_or_else(Problem::not_found)?;
    let report: Report = serde_json::from_str(&row.report).map_err(Problem::internal)?;
    if as_csv {
        let body = csv_of(&report.survival_curve)?;
        let tag = etag::of(body.as_bytes());
        return Ok(HttpResponse::Ok()
            .insert_header((header::ETAG, tag))
            .insert_header((header::VARY, "Accept"))
            .insert_header((header::CACHE_CONTROL, "private, no-cache"))
            .content_type("text/csv; charset=utf-8")
            .body(body));
    }
    reply::record(
        &request,
        &SurvivalCurveView {
            part_type: part_type.key.clone(),
            scale,
            unit: scale.unit(),
            fit_id: FitId::from_uuid(row.id),
            lives: report.sample.lives,
            failures: report.sample.failures,
            curve: report.survival_curve,
        },
    )
}
