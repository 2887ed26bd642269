//! One stream of random numbers per subject, so that an edit to one aircraft leaves the others as they were.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// What a stream of random numbers is for; the number is the row in the scenario file.
#[derive(Debug, Clone, Copy)]
pub(super) enum Stream {
    People,
    Pilot(u32),
    Flying(u32),
    Wear(u32),
    Reporting(u32),
    Emerging(u32),
}

impl Stream {
    pub(super) fn open(self, seed: u64) -> ChaCha8Rng {
        let (kind, number) = match self {
            Self::People => (0_u64, 0),
            Self::Pilot(number) => (1, number),
            Self::Flying(number) => (2, number),
            Self::Wear(number) => (3, number),
            Self::Reporting(number) => (4, number),
            Self::Emerging(number) => (5, number),
        };
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream((kind << 32) | u64::from(number));
        random
    }
}
