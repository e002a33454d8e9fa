//! Counter-based random numbers: one stream for each (seed, room, class, replicate), so that a
//! result never depends on threads or on the order of work. The only file that names a generator.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use sha2::{Digest, Sha256};

/// A stream of random numbers that belongs to one replicate of one piece of work.
///
/// # Examples
/// ```
/// use relamp::base::random::Stream;
/// let mut a = Stream::new(7, "fit", "2.0 kW", 0);
/// let mut b = Stream::new(7, "fit", "2.0 kW", 0);
/// assert_eq!(a.uniform(), b.uniform());
/// ```
#[derive(Clone, Debug)]
pub struct Stream {
    generator: ChaCha8Rng,
}

impl Stream {
    /// The stream of `replicate` under the key (seed, room, class).
    pub fn new(seed: u64, room: &str, class: &str, replicate: u64) -> Self {
        let mut hash = Sha256::new();
        hash.update(seed.to_le_bytes());
        for word in [room, class] {
            hash.update((word.len() as u64).to_le_bytes());
            hash.update(word.as_bytes());
        }
        let mut generator = ChaCha8Rng::from_seed(hash.finalize().into());
        generator.set_stream(replicate);
        Self { generator }
    }

    /// A number strictly between 0 and 1: (53 bits + 0.5) x 2^-53.
    pub fn uniform(&mut self) -> f64 {
        const STEP: f64 = 1.0 / 9_007_199_254_740_992.0;
        ((self.generator.next_u64() >> 11) as f64 + 0.5) * STEP
    }

    /// An exponential number with mean 1.
    pub fn exponential(&mut self) -> f64 {
        -self.uniform().ln()
    }

    /// A whole number in `0..n`; `n` must be above 0.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n.saturating_sub(1))
    }
}
