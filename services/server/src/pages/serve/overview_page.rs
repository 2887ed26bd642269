//! `/`: every part type with life, interval and grade.

use super::{html, shell};
use crate::fits::newest_of_all;
use crate::pages::Shown;
use crate::pages::figures::{Estimate, ScaleWords};
use crate::pages::overview::{self, OverviewView, PartRow, SystemGroup, Totals};
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::postgres::{Connection, Pool};
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use diesel::sql_types::BigInt;
use diesel_async::RunQueryDsl;
use std::collections::HashMap;
use wearbook_domain::advice::{Advice, InspectionVerdict, policy};
use wearbook_domain::catalogue;
use wearbook_domain::catalogue::PartType;
use wearbook_domain::units::WearScale;

#[derive(diesel::QueryableByName)]
struct Counts {
    #[diesel(sql_type = BigInt)]
    airframes: i64,
    #[diesel(sql_type = BigInt)]
    flights: i64,
    #[diesel(sql_type = BigInt)]
    owners: i64,
}

/// The words of a scale.
pub fn words(scale: WearScale) -> ScaleWords {
    match scale {
        WearScale::Flights => ScaleWords::FLIGHTS,
        WearScale::FlightMinutes => ScaleWords::FLIGHT_MINUTES,
        WearScale::RotorKrev => ScaleWords::ROTOR_KREV,
    }
}

/// The page.
pub async fn show(
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut connection = pool.get().await?;
    let shell = shell(&mut connection, &request).await?;
    let advice = newest_advice(&mut connection).await?;
    let counts: Counts = diesel::sql_query(include_str!("overview_counts.sql"))
        .get_result(&mut *connection)
        .await?;
    let of = |part: &PartType| advice.get(&(part.key.to_string(), part.first_scale()));
    let systems: Vec<SystemGroup> = catalogue()
        .systems
        .iter()
        .map(|system| SystemGroup {
            key: system.key.to_string(),
            name: system.name.clone(),
            rows: catalogue()
                .part_types
                .iter()
                .filter(|part| part.system == system.key)
                .map(|part| row_of(part, of(part)))
                .collect(),
        })
        .collect();
    let rows = || systems.iter().flat_map(|system| &system.rows);
    let unsigned = |count: i64| u64::try_from(count).unwrap_or(0);
    let view = OverviewView {
        data_date: advice
            .values()
            .map(|advice| advice.data_as_of.date_naive())
            .max(),
        level: policy().shown_level,
        totals: Totals {
            airframes: unsigned(counts.airframes),
            flights: unsigned(counts.flights),
            owners: unsigned(counts.owners),
            lives: rows().map(|row| row.lives).sum(),
            failures: rows().map(|row| row.failures).sum(),
        },
        systems,
    };
    html(overview::render(&shell, &view))
}

async fn newest_advice(
    connection: &mut Connection,
) -> Result<HashMap<(String, WearScale), Advice>, Problem> {
    newest_of_all(connection)
        .await?
        .into_iter()
        .map(|(part_type, scale, advice)| {
            let scale = scale.parse().map_err(Problem::internal)?;
            Ok((
                (part_type, scale),
                serde_json::from_str(&advice).map_err(Problem::internal)?,
            ))
        })
        .collect()
}

/// The age by which 10 in 100 have failed, or why it is not known.
pub fn decile_of(advice: &Advice) -> Shown<Estimate> {
    let life = advice
        .life
        .as_ref()
        .ok_or_else(|| "too few failures to say.".to_owned())?;
    let found = life.ten_in_hundred_failed;
    let value = found
        .value
        .or(found.lower)
        .ok_or_else(|| "not known from these records.".to_owned())?;
    Ok(Estimate {
        value,
        lower: found.lower,
        upper: found.upper,
    })
}

fn row_of(part: &PartType, advice: Option<&Advice>) -> PartRow {
    let none = || "no records".to_owned();
    PartRow {
        key: part.key.to_string(),
        name: part.name.clone(),
        severity: part.criticality.words().to_owned(),
        scale: words(part.first_scale()),
        decile: advice.ok_or_else(none).and_then(decile_of),
        look_every: advice.ok_or_else(none).and_then(|advice| {
            advice
                .inspection
                .span
                .ok_or_else(|| match advice.inspection.verdict {
                    InspectionVerdict::BeforeEveryFlight => "before every flight".to_owned(),
                    _ => "not stated".to_owned(),
                })
        }),
        renew_by: advice.ok_or_else(none).and_then(|advice| {
            advice
                .replacement
                .value
                .ok_or_else(|| "not by age".to_owned())
        }),
        grade: advice
            .map_or("no records", |advice| advice.evidence.grade.words())
            .to_owned(),
        lives: advice.and_then(|advice| advice.lives).unwrap_or(0),
        failures: advice.and_then(|advice| advice.failures).unwrap_or(0),
    }
}
