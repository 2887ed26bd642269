//! Query parameters, read strictly: an unknown, repeated or ill-typed one is refused.

use super::admission::admitted;
use super::codes::ProblemCode;
use super::problem::Problem;
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest};
use futures_util::future::LocalBoxFuture;
use serde::de::DeserializeOwned;

/// The whole query as `T`, whose unknown fields are denied.
#[derive(Debug, Clone)]
pub struct Query<T>(pub T);

/// Reads a query string.
///
/// # Errors
/// `unknown-parameter` or `invalid-parameter`, naming it.
pub fn read<T: DeserializeOwned>(query: &str) -> Result<T, Problem> {
    let reader = serde_urlencoded::Deserializer::new(form_pairs(query));
    serde_path_to_error::deserialize(reader).map_err(|error| {
        let place = error.path().to_string();
        let message = error.into_inner().to_string();
        if message.starts_with("unknown field") {
            Problem::new(
                ProblemCode::UnknownParameter,
                message.replace("field", "parameter"),
            )
        } else {
            Problem::new(ProblemCode::InvalidParameter, format!("{place}: {message}"))
        }
    })
}

fn form_pairs(query: &str) -> form_urlencoded::Parse<'_> {
    form_urlencoded::parse(query.as_bytes())
}

impl<T: DeserializeOwned + 'static> FromRequest for Query<T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            admitted(&request).await;
            read(request.query_string()).map(Query)
        })
    }
}

/// For addresses without parameters: any is refused.
#[derive(Debug, Clone, Copy, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoParameters {}
