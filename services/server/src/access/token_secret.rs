//! API tokens: a fixed prefix that a leak scanner can find, 256 random bits, and a checksum that catches typing errors.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use rand::TryRngCore;
use rand::rngs::OsRng;
use sha2::{Digest, Sha256};

const PREFIX: &str = "wearbook_";

/// A token in clear. It exists while it is made and while a request is checked; only its digest is stored.
pub struct TokenSecret(String);

/// The system's random source failed.
#[derive(Debug, thiserror::Error)]
#[error("no random numbers from the system: {0}")]
pub struct NoRandomness(String);

fn checksum(middle: &str) -> String {
    Sha256::digest(middle.as_bytes())
        .iter()
        .take(3)
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

impl TokenSecret {
    /// A new token.
    ///
    /// # Errors
    /// When the system gives no random numbers.
    pub fn random() -> Result<Self, NoRandomness> {
        let mut bytes = [0_u8; 32];
        OsRng
            .try_fill_bytes(&mut bytes)
            .map_err(|error| NoRandomness(error.to_string()))?;
        let middle = URL_SAFE_NO_PAD.encode(bytes);
        let check = checksum(&middle);
        Ok(Self(format!("{PREFIX}{middle}{check}")))
    }

    /// Reads a token as it was sent; `None` when prefix, length or checksum are wrong, without asking the database.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (middle, check) = text.strip_prefix(PREFIX)?.split_at_checked(43)?;
        (checksum(middle) == check).then(|| Self(text.to_owned()))
    }

    /// What is stored and looked up. A fast digest is right for 256 random bits.
    #[must_use]
    pub fn digest(&self) -> [u8; 32] {
        Sha256::digest(self.0.as_bytes()).into()
    }

    /// The text to hand over, once.
    #[must_use]
    pub fn reveal(&self) -> &str {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_reads_back_and_one_wrong_letter_is_noticed() {
        let secret = TokenSecret::random().unwrap();
        let text = secret.reveal().to_owned();
        assert_eq!(TokenSecret::parse(&text).unwrap().digest(), secret.digest());
        let swapped = if text.ends_with('0') { "1" } else { "0" };
        assert!(TokenSecret::parse(&format!("{}{swapped}", &text[..text.len() - 1])).is_none());
        assert!(TokenSecret::parse("wearbook_").is_none());
        assert!(TokenSecret::parse("").is_none());
    }
}
