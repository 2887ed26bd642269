//! The API description: collected from the slices, completed with what every operation shares.

mod complete;
mod examples;

use crate::platform::http::codes::ProblemCode;
use crate::platform::http::problem::{FieldFault, ProblemDocument};
use serde_json::Value;
use utoipa::OpenApi;
use utoipa::openapi::OpenApi as Document;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Wearbook",
        description = "Lifetimes of helicopter components: records in, survival models fitted, inspection and replacement intervals out. \
                       An interval is advice with its uncertainty, never a promise. The maker's manual, the club's rules and the law go first.",
        license(name = "Proprietary", identifier = "LicenseRef-Proprietary"),
        contact(name = "The people who run this instance", url = "/about")
    ),
    servers((url = "/", description = "This instance")),
    components(schemas(ProblemDocument, FieldFault, ProblemCode)),
    tags(
        (name = "access", description = "Accounts, organisations and API tokens"),
        (name = "service", description = "The running service itself")
    )
)]
struct Frame;

/// The whole description as it is served, committed and used to check bodies.
///
/// # Panics
/// Never: the description is plain data.
#[must_use]
pub fn document() -> Value {
    let mut document: Document = Frame::openapi();
    document.info.version = env!("CARGO_PKG_VERSION").to_owned();
    for slice in [
        crate::health::Description::openapi(),
        crate::access::Description::openapi(),
        crate::catalogue::Description::openapi(),
        crate::fleet::Description::openapi(),
        crate::usage::Description::openapi(),
        crate::failures::Description::openapi(),
        crate::lives::Description::openapi(),
        crate::fits::Description::openapi(),
        crate::advice::Description::openapi(),
        crate::analyses::Description::openapi(),
        crate::exchange::Description::openapi(),
        crate::pages::Description::openapi(),
    ] {
        document.merge(slice);
    }
    let mut value = serde_json::to_value(document).expect("a description is plain data");
    complete::complete(&mut value);
    value
}

/// The description as the committed file has it.
#[must_use]
pub fn text() -> String {
    let mut text = serde_json::to_string_pretty(&document()).unwrap_or_default();
    text.push('\n');
    text
}
