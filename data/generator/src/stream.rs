//! Counter-based random numbers: one stream for each (seed, purpose, index).

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of random numbers for one purpose; drawing from one never moves another.
#[derive(Clone, Debug)]
pub struct Stream(ChaCha8Rng);

impl Stream {
    /// The stream `index` for `purpose`; only the first 24 bytes of the purpose count.
    pub fn new(seed: u64, purpose: &str, index: u64) -> Self {
        let mut key = [0u8; 32];
        for (to, from) in key.iter_mut().zip(seed.to_le_bytes().into_iter().chain(purpose.bytes())) {
            *to = from;
        }
        let mut generator = ChaCha8Rng::from_seed(key);
        generator.set_stream(index);
        Self(generator)
    }

    /// A number strictly between 0 and 1.
    pub fn uniform(&mut self) -> f64 {
        const STEP: f64 = 1.0 / 9_007_199_254_740_992.0;
        ((self.0.next_u64() >> 11) as f64 + 0.5) * STEP
    }

    /// A number between `low` and `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number in `0..n`; 0 for `n` of 0.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// A whole number of days (or other things) in `0..n`; 0 for `n` of 0.
    pub fn whole(&mut self, n: i32) -> i32 {
        ((self.uniform() * f64::from(n)) as i32).min((n - 1).max(0))
    }

    /// True with the given probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// An exponential number with mean 1.
    pub fn exponential(&mut self) -> f64 {
        -self.uniform().ln()
    }

    /// A standard normal number, by the polar angle and radius of two uniforms.
    pub fn normal(&mut self) -> f64 {
        let radius = (2.0 * self.exponential()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// The numbers `0..n` in random order.
    pub fn order(&mut self, n: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..n).collect();
        for i in (1..n).rev() {
            let j = self.below(i + 1);
            order.swap(i, j);
        }
        order
    }
}
