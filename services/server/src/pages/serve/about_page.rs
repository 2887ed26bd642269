//! `/about`: what an interval is and is not, the targets, the cautions.

use super::{html, shell};
use crate::pages::about::{self, AboutView, PolicyRow};
use crate::platform::http::problem::Problem;
use crate::platform::http::query::{NoParameters, Query};
use crate::platform::postgres::Pool;
use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse};
use wearbook_domain::advice::policy;
use wearbook_domain::vocabulary::Severity;

/// What a severity means for a helicopter, after "means".
pub fn meaning(severity: Severity) -> &'static str {
    match severity {
        Severity::Catastrophic => {
            "rotor, blade or control lost in flight, loose high-energy parts, danger to people"
        }
        Severity::Critical => {
            "the flight cannot go on, and a crash is likely unless a landing without power works"
        }
        Severity::Marginal => "degraded flight, an early landing, extra wear",
        Severity::Negligible => "looks or comfort only",
    }
}

/// The page.
pub async fn show(
    _: Query<NoParameters>,
    pool: Data<Pool>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let shell = shell(&mut *pool.get().await?, &request).await?;
    let policy = policy();
    let rows = Severity::ALL.iter().map(|severity| {
        let target = policy.target(*severity);
        PolicyRow {
            severity: severity.words().to_owned(),
            number: severity.number(),
            meaning: meaning(*severity).to_owned(),
            per_interval: target.per_interval,
            per_flight: target.per_flight,
        }
    });
    html(about::render(
        &shell,
        &AboutView {
            level: policy.shown_level,
            policy: rows.collect(),
        },
    ))
}
