//! Pages for what went wrong, and the page behind each error code.

use askama::Template;

use super::layout::{Here, Shell};

/// A refused or failed request, for a browser.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ErrorView {
    /// HTTP status.
    pub status: u16,
    /// The stable code, such as `not-found`; links to its page.
    pub code: String,
    /// The heading.
    pub title: String,
    /// What happened, in one or two sentences.
    pub detail: String,
    /// Single faults of the request, if it had any.
    pub faults: Vec<FaultView>,
    /// What the reader can do now.
    pub next_steps: Vec<NextStep>,
    /// The id to quote in a question.
    pub request_id: Option<String>,
}

/// One fault in a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FaultView {
    /// Where, as a JSON pointer or the name of a query parameter.
    pub place: String,
    /// What is wrong and what is allowed.
    pub message: String,
}

/// A sentence that may lead somewhere.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NextStep {
    /// The sentence.
    pub words: String,
    /// Where it leads, on this host.
    pub href: Option<String>,
}

/// The meaning of one error code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ErrorCodeView {
    /// The stable code.
    pub code: String,
    /// HTTP status that comes with it.
    pub status: u16,
    /// Title as in the problem document.
    pub title: String,
    /// What it means, in a few sentences.
    pub meaning: String,
    /// What to do, one step each.
    pub remedies: Vec<String>,
    /// An example problem document as text, if there is one.
    pub example: Option<String>,
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage<'a> {
    shell: &'a Shell,
    here: Here,
    view: &'a ErrorView,
}

#[derive(Template)]
#[template(path = "error_code.html")]
struct ErrorCodePage<'a> {
    shell: &'a Shell,
    here: Here,
    view: &'a ErrorCodeView,
}

/// Writes the page that a browser gets instead of what it asked for.
///
/// # Errors
/// Fails only when the template cannot be written out.
pub fn render(shell: &Shell, view: &ErrorView) -> Result<String, askama::Error> {
    ErrorPage {
        shell,
        here: Here::Elsewhere,
        view,
    }
    .render()
}

/// Writes the page behind the `type` address of a problem document.
///
/// # Errors
/// Fails only when the template cannot be written out.
pub fn render_code(shell: &Shell, view: &ErrorCodeView) -> Result<String, askama::Error> {
    ErrorCodePage {
        shell,
        here: Here::Elsewhere,
        view,
    }
    .render()
}
