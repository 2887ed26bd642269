//! Advice for a part type: "how long does a tail belt last?"

use crate::access::{Acting, ReadAdvice};
use crate::fits::{About, FitInputs, FitRow, newest};
use crate::platform::clock;
use crate::platform::http::path::Key;
use crate::platform::http::problem::Problem;
use crate::platform::http::query::Query;
use crate::platform::http::reply;
use crate::platform::jobs::queue;
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use wearbook_analysis::report::Report;
use wearbook_domain::advice::Advice;
use wearbook_domain::catalogue::PartType;
use wearbook_domain::ids::FitId;
use wearbook_domain::units::WearScale;
use wearbook_domain::{PartTypeKey, catalogue};

/// What the advice is wanted for.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AdviceParameters {
    /// The usage scale: the part type's usual one unless said.
    pub scale: Option<WearScale>,
    /// The age of the component in hand, on that scale; a new one unless said.
    #[param(minimum = 0, maximum = 1e9)]
    pub age: Option<f64>,
}

/// Advice and whether newer records still wait to be counted.
#[derive(Debug, Serialize, ToSchema)]
pub struct PartTypeAdvice {
    /// The advice.
    pub advice: Advice,
    /// True while records that may change it wait to be worked in.
    pub recalculation_pending: bool,
}

/// Advice with the fit behind it, as pages and API use it.
#[derive(Debug)]
pub struct Advised {
    /// The part type.
    pub part_type: &'static PartType,
    /// The advice.
    pub advice: Advice,
    /// The fit; absent where there are no lives.
    pub fit: Option<(FitId, Report)>,
}

/// The part type behind a key, and its scale.
///
/// # Errors
/// `not-found` for an unknown key.
pub fn resolve(
    key: &PartTypeKey,
    scale: Option<WearScale>,
) -> Result<(&'static PartType, WearScale), Problem> {
    let part_type = catalogue().part_type(key).ok_or_else(Problem::not_found)?;
    Ok((part_type, scale.unwrap_or_else(|| part_type.first_scale())))
}

/// Advice for a part type on a scale, at an age.
///
/// # Errors
/// When the database is away.
pub async fn advise_part_type(
    connection: &mut Connection,
    part_type: &'static PartType,
    scale: WearScale,
    age: Option<f64>,
) -> Result<Advised, Problem> {
    let Some(row) = newest(connection, part_type.key.as_str(), scale.code()).await? else {
        return without_lives(part_type, scale, age);
    };
    let fit = FitId::from_uuid(row.id);
    let report = serde_json::from_str(&row.report).map_err(Problem::internal)?;
    let advice = match age {
        None => serde_json::from_str(&row.advice).map_err(Problem::internal)?,
        Some(age) => at_age(&row, part_type, scale, age)?,
    };
    Ok(Advised {
        part_type,
        advice,
        fit: Some((fit, report)),
    })
}

fn at_age(
    row: &FitRow,
    part_type: &PartType,
    scale: WearScale,
    age: f64,
) -> Result<Advice, Problem> {
    let inputs: FitInputs = serde_json::from_str(&row.inputs).map_err(Problem::internal)?;
    let about = About {
        fit: Some(FitId::from_uuid(row.id)),
        data_as_of: row.data_as_of,
    };
    Ok(inputs.advice(part_type, scale, &inputs.sample()?, &about, Some(age)))
}

fn without_lives(
    part_type: &'static PartType,
    scale: WearScale,
    age: Option<f64>,
) -> Result<Advised, Problem> {
    let inputs = FitInputs {
        lives: Vec::new(),
        lives_per_contributor: Vec::new(),
        mean_wear_per_flight: None,
        ages_known: None,
    };
    // Whole days, so that the same question gets the same answer all day.
    let today = clock::now()
        .date_naive()
        .and_time(chrono::NaiveTime::MIN)
        .and_utc();
    let about = About {
        fit: None,
        data_as_of: today,
    };
    let advice = inputs.advice(part_type, scale, &inputs.sample()?, &about, age);
    Ok(Advised {
        part_type,
        advice,
        fit: None,
    })
}

/// Checks the age that was asked for.
pub fn check_age(age: Option<f64>) -> Result<Option<f64>, Problem> {
    use crate::platform::http::codes::ProblemCode;
    match age {
        Some(age) if !(0.0..=1e9).contains(&age) => Err(Problem::new(
            ProblemCode::InvalidParameter,
            format!("age: from 0 to 1e9, not {age}"),
        )),
        age => Ok(age),
    }
}

/// Advice for a part type.
#[utoipa::path(
    get, path = "/v1/part-types/{key}/advice", operation_id = "advise_part_type", tag = "advice",
    summary = "How long does it last, and when to look?",
    description = "Replacement and inspection interval with bounds, evidence grade with reasons, cautions, counts, model and fit. \
                   Statistics of reported cases: the maker's manual wins if it is shorter.",
    params(("key" = PartTypeKey, Path, description = "Key of the part type"), AdviceParameters),
    responses((status = 200, description = "The advice", body = PartTypeAdvice, headers(("ETag" = String, description = "Strong entity tag")))),
    security(("token" = ["read-advice"]))
)]
pub async fn get(
    _: Acting<ReadAdvice>,
    key: Key<PartTypeKey>,
    parameters: Query<AdviceParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let (part_type, scale) = resolve(&key.0, parameters.0.scale)?;
    let age = check_age(parameters.0.age)?;
    let mut connection = pool.get().await?;
    // Asked first: records that arrive between the two questions then show as pending, never as counted.
    let recalculation_pending = queue::is_busy(&mut connection).await?;
    let advised = advise_part_type(&mut connection, part_type, scale, age).await?;
    reply::record(
        &request,
        &PartTypeAdvice {
            advice: advised.advice,
            recalculation_pending,
        },
    )
}
