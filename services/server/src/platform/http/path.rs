//! Ids and keys in the path. One that cannot be read names nothing, so it answers like one that does not exist.

use super::admission::admitted;
use super::problem::Problem;
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest};
use futures_util::future::LocalBoxFuture;
use std::str::FromStr;

/// The `{id}` of the path.
#[derive(Debug, Clone)]
pub struct Id<T>(pub T);

/// The `{key}` of the path.
#[derive(Debug, Clone)]
pub struct Key<T>(pub T);

fn segment<T: FromStr>(request: &HttpRequest, name: &str) -> Result<T, Problem> {
    request
        .match_info()
        .get(name)
        .and_then(|text| text.parse().ok())
        .ok_or_else(Problem::not_found)
}

impl<T: FromStr + 'static> FromRequest for Id<T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            admitted(&request).await;
            segment(&request, "id").map(Id)
        })
    }
}

impl<T: FromStr + 'static> FromRequest for Key<T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move {
            admitted(&request).await;
            segment(&request, "key").map(Key)
        })
    }
}
