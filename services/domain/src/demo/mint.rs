//! Identifiers that follow from the seed: the time of the event, then bits from a stream.

use rand::Rng;
use rand_chacha::ChaCha8Rng;

/// Ten bytes that make an identifier its own.
pub(super) fn bits(random: &mut ChaCha8Rng) -> [u8; 10] {
    random.random()
}
