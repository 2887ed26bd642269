//! What every page has around its content.

/// The one style sheet, served at [`STYLE_SHEET_PATH`] as `text/css`.
pub const STYLE_SHEET: &str = include_str!("../../assets/wearbook.css");
/// Where pages look for the style sheet; a query with its digest follows, so it may be kept long.
pub const STYLE_SHEET_PATH: &str = "/assets/wearbook.css";
/// The sketch in the tab, served at [`FAVICON_PATH`] as `image/svg+xml`.
pub const FAVICON: &str = include_str!("../../assets/favicon.svg");
/// Where pages look for the sketch in the tab.
pub const FAVICON_PATH: &str = "/favicon.svg";
/// Where pages look for the API reference.
pub const API_REFERENCE_PATH: &str = "/reference/";
/// Stands beside every suggestion and at the foot of every page.
pub const SAFETY_NOTE: &str = "Statistics of reported cases, not an inspection of your aircraft. \
    The maker's instructions, your club's rules and the law go first. If in doubt, do not fly.";

/// The place in the main navigation that a page belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Here {
    /// The list of part types and everything under it.
    Parts,
    /// The page about the advice.
    About,
    /// Outside the navigation, such as an error page.
    Elsewhere,
}

/// What a page knows about the instance and the request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shell {
    /// Path and query of the page, printed on paper.
    pub path: String,
    /// Whether the records are invented; a banner then says so on every page.
    pub demo: bool,
}

impl Shell {
    /// Address of the style sheet with a digest of its text.
    #[must_use]
    pub fn style_href(&self) -> String {
        const DIGEST: u64 = digest(STYLE_SHEET.as_bytes());
        format!("{STYLE_SHEET_PATH}?v={DIGEST:016x}")
    }

    /// Address of the sketch in the tab.
    #[must_use]
    pub fn favicon_href(&self) -> &'static str {
        FAVICON_PATH
    }

    /// Address of the API reference.
    #[must_use]
    pub fn reference_href(&self) -> &'static str {
        API_REFERENCE_PATH
    }

    /// The short safety text.
    #[must_use]
    pub fn safety_note(&self) -> &'static str {
        SAFETY_NOTE
    }
}

impl Here {
    /// Whether this is the given entry of the navigation.
    #[must_use]
    pub fn is(self, entry: Self) -> bool {
        self == entry
    }
}

/// FNV-1a, 64 bits: enough to tell one version of the style sheet from the next.
const fn digest(mut bytes: &[u8]) -> u64 {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    while let [first, rest @ ..] = bytes {
        hash = (hash ^ *first as u64).wrapping_mul(0x0100_0000_01b3);
        bytes = rest;
    }
    hash
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_style_sheet_is_smaller_than_13_kb_and_calls_nothing_from_elsewhere() {
        assert!(STYLE_SHEET.len() < 13_000, "{} bytes", STYLE_SHEET.len());
        for word in ["url(", "@import", "http"] {
            assert!(!STYLE_SHEET.contains(word), "found {word}");
        }
    }

    #[test]
    fn the_address_of_the_style_sheet_changes_with_its_text() {
        assert_ne!(digest(b"a{}"), digest(b"b{}"));
    }
}
