//! Chance from a seed: the same seed always tells the same season.

use selachron_schemas::time::Instant;

/// A stream of numbers. Each part of the season has its own, named, so that a change in one
/// part leaves the others as they were.
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    /// The stream of that name under a seed.
    #[must_use]
    pub fn new(seed: u64, name: &str) -> Self {
        // FNV-1a over the name, then the seed: distinct names start far apart.
        let hash = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
        let mut stream = Self(hash ^ seed.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        stream.bits();
        stream
    }

    /// 64 even bits (SplitMix64; Steele, Lea & Flood 2014).
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number in [0, 1).
    #[allow(clippy::cast_precision_loss)]
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Whether something of that probability happens.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// A number between two bounds.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: i64, high: i64) -> i64 {
        let span = u64::try_from(high - low + 1).unwrap_or(1);
        low + i64::try_from(self.bits() % span).unwrap_or(0)
    }

    /// A number near `mean`: the sum of twelve even numbers is close enough to a normal one.
    pub fn near(&mut self, mean: f64, sd: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| self.unit()).sum();
        mean + sd * (sum - 6.0)
    }

    /// One of several.
    pub fn one_of<'a, T: ?Sized>(&mut self, choices: &[&'a T]) -> &'a T {
        let at = usize::try_from(self.bits() % choices.len() as u64).unwrap_or(0);
        choices[at]
    }

    /// Puts a list into an order by chance (Fisher and Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            let other = usize::try_from(self.bits() % (last as u64 + 1)).unwrap_or(0);
            items.swap(last, other);
        }
    }

    /// A ULID whose time part is that instant.
    pub fn ulid(&mut self, time: Instant) -> String {
        let random = (u128::from(self.bits()) << 64) | u128::from(self.bits());
        ulid::Ulid::from_parts(u64::try_from(time.0).unwrap_or(0), random).to_string()
    }
}

/// Rounds to so many decimal places: nobody reads a probe to the fifteenth digit.
#[must_use]
pub fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10_f64.powi(places);
    (value * scale).round() / scale
}
