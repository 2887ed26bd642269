//! Lists in pages. A cursor names the last row seen; it is signed and bound to the list, its filter and the caller.

use super::codes::ProblemCode;
use super::problem::Problem;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use hmac::{Hmac, KeyInit, Mac};
use serde::{Deserialize, Serialize};
use sha2::Sha256;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

/// How many rows a page has when the caller does not say.
const DEFAULT_LIMIT: i64 = 50;
/// More than this is cut, not refused.
const LARGEST_LIMIT: i64 = 500;

/// The parameters that every list takes.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PageParameters {
    /// Rows on a page: 50 unless said, at most 500 (more is cut).
    #[param(minimum = 1, example = 50)]
    pub limit: Option<i64>,
    /// The `next` of the page before.
    #[param(max_length = 200)]
    pub cursor: Option<String>,
}

/// One page.
#[derive(Debug, Serialize, ToSchema)]
pub struct Page<T> {
    /// The rows, in the order of their ids (which is the order of their making).
    #[schema(max_items = 500)]
    pub items: Vec<T>,
    /// The cursor of the next page; null on the last.
    #[schema(max_length = 200)]
    pub next: Option<String>,
}

/// The instance's key for signing cursors.
#[derive(Clone)]
pub struct CursorKey(pub Vec<u8>);

/// What a list was asked for, checked.
#[derive(Debug, Clone)]
pub struct Window {
    /// Rows on this page.
    pub limit: i64,
    /// Rows after this id.
    pub after: Option<Uuid>,
    binding: String,
}

impl CursorKey {
    fn sign(&self, binding: &str, id: Uuid) -> Option<[u8; 16]> {
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.0).ok()?;
        mac.update(binding.as_bytes());
        mac.update(id.as_bytes());
        mac.finalize().into_bytes().first_chunk::<16>().copied()
    }

    /// Reads `limit` and `cursor`. `binding` names the list, its filter and the caller.
    ///
    /// # Errors
    /// `invalid-parameter` for a limit below 1, `cursor-invalid` for a cursor that was not made for this list.
    pub fn window(
        &self,
        limit: Option<i64>,
        cursor: Option<&str>,
        binding: String,
    ) -> Result<Window, Problem> {
        let limit = limit.unwrap_or(DEFAULT_LIMIT);
        if limit < 1 {
            return Err(Problem::new(
                ProblemCode::InvalidParameter,
                format!("limit: at least 1, not {limit}"),
            ));
        }
        let after = cursor
            .map(|text| {
                self.open(text, &binding).ok_or_else(|| {
                    Problem::new(
                        ProblemCode::CursorInvalid,
                        "The cursor was not made for this list, filter and account.",
                    )
                })
            })
            .transpose()?;
        Ok(Window {
            limit: limit.min(LARGEST_LIMIT),
            after,
            binding,
        })
    }

    fn open(&self, text: &str, binding: &str) -> Option<Uuid> {
        let bytes = URL_SAFE_NO_PAD.decode(text).ok()?;
        let (id, signature) = bytes.split_first_chunk::<16>()?;
        let id = Uuid::from_bytes(*id);
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.0).ok()?;
        mac.update(binding.as_bytes());
        mac.update(id.as_bytes());
        mac.verify_truncated_left(signature).ok()?;
        (signature.len() == 16).then_some(id)
    }

    /// Turns the rows of one fetch (`limit + 1` of them where there are more) into a page.
    ///
    /// # Errors
    /// When a row cannot be shown, which is our fault.
    pub fn page<R, T>(
        &self,
        window: &Window,
        mut rows: Vec<R>,
        id: impl Fn(&R) -> Uuid,
        view: impl Fn(R) -> Result<T, Problem>,
    ) -> Result<Page<T>, Problem> {
        let limit = usize::try_from(window.limit).unwrap_or(usize::MAX);
        let more = rows.len() > limit;
        rows.truncate(limit);
        let next = rows.last().filter(|_| more).and_then(|last| {
            let id = id(last);
            let signature = self.sign(&window.binding, id)?;
            Some(URL_SAFE_NO_PAD.encode([id.as_bytes().as_slice(), &signature].concat()))
        });
        Ok(Page {
            items: rows.into_iter().map(view).collect::<Result<_, _>>()?,
            next,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_opens_only_for_its_own_list_and_unchanged() {
        let key = CursorKey(vec![7; 32]);
        let window = key.window(Some(1), None, "airframes of a".into()).unwrap();
        let page = key
            .page(
                &window,
                vec![Uuid::from_u128(1), Uuid::from_u128(2)],
                |id| *id,
                Ok,
            )
            .unwrap();
        let cursor = page.next.unwrap();
        assert_eq!(
            key.window(None, Some(&cursor), "airframes of a".into())
                .unwrap()
                .after,
            Some(Uuid::from_u128(1))
        );
        assert!(
            key.window(None, Some(&cursor), "airframes of z".into())
                .is_err()
        );
        let mut flipped = URL_SAFE_NO_PAD.decode(&cursor).unwrap();
        flipped[20] ^= 1;
        assert!(
            key.window(
                None,
                Some(&URL_SAFE_NO_PAD.encode(flipped)),
                "airframes of a".into()
            )
            .is_err()
        );
    }

    #[test]
    fn a_limit_above_the_largest_is_cut_and_one_below_one_refused() {
        let key = CursorKey(vec![7; 32]);
        assert_eq!(
            key.window(Some(100_000), None, String::new())
                .unwrap()
                .limit,
            500
        );
        assert!(key.window(Some(0), None, String::new()).is_err());
        assert!(key.window(Some(-1), None, String::new()).is_err());
    }
}
