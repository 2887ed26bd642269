//! An answer of the service, read to its end.

use reqwest::header::HeaderMap;
use serde_json::Value;

/// An answer of the service.
#[derive(Debug, Clone)]
pub struct Reply {
    /// HTTP status.
    pub status: u16,
    /// Headers.
    pub headers: HeaderMap,
    /// Body, byte for byte.
    pub bytes: Vec<u8>,
    /// The path that was asked, without the query.
    pub path: String,
}

impl Reply {
    /// A header, if it is there and readable.
    #[must_use]
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.get(name).and_then(|value| value.to_str().ok())
    }

    /// The body as text.
    #[must_use]
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }

    /// The strong entity tag.
    ///
    /// # Panics
    /// If the answer has none.
    #[must_use]
    pub fn etag(&self) -> &str {
        self.header("etag")
            .unwrap_or_else(|| panic!("no ETag at {}: {}", self.path, self.text()))
    }

    /// The body as JSON, after the status was found to be `status`.
    ///
    /// # Panics
    /// If the answer is another one.
    #[must_use]
    #[track_caller]
    pub fn expect(&self, status: u16) -> Value {
        assert_eq!(self.status, status, "{}: {}", self.path, self.text());
        serde_json::from_slice(&self.bytes)
            .unwrap_or_else(|error| panic!("{}: {error}: {}", self.path, self.text()))
    }

    /// The problem document, after every promise that all problems make was found kept.
    ///
    /// # Panics
    /// If the answer is another one, or breaks a promise.
    #[must_use]
    #[track_caller]
    pub fn problem(&self, status: u16, code: &str) -> Value {
        let document = self.expect(status);
        let media_type = self.header("content-type").unwrap_or_default();
        assert_eq!(media_type, "application/problem+json", "{document}");
        assert_eq!(document["code"], code, "{document}");
        assert_eq!(document["status"], status, "{document}");
        assert_eq!(document["type"], format!("/errors/{code}"), "{document}");
        assert_eq!(document["instance"], self.path, "{document}");
        for member in ["title", "detail", "request_id"] {
            let text = document[member].as_str().unwrap_or_default();
            assert!(!text.is_empty(), "{member} is empty in {document}");
        }
        assert_eq!(document["request_id"].as_str(), self.header("x-request-id"));
        assert!(document["errors"].is_array(), "{document}");
        assert_eq!(self.header("cache-control"), Some("no-store"));
        assert_eq!(self.header("x-content-type-options"), Some("nosniff"));
        document
    }

    /// The pointers of all faults of a problem, sorted.
    ///
    /// # Panics
    /// If the answer is no problem with status 422 or 409.
    #[must_use]
    #[track_caller]
    pub fn pointers(&self) -> Vec<String> {
        assert!(
            matches!(self.status, 409 | 422),
            "{}: {}",
            self.path,
            self.text()
        );
        let document = self.expect(self.status);
        let faults = document["errors"].as_array().cloned().unwrap_or_default();
        let mut pointers: Vec<String> = faults
            .iter()
            .filter_map(|fault| fault["pointer"].as_str().map(str::to_owned))
            .collect();
        pointers.sort();
        pointers
    }
}
