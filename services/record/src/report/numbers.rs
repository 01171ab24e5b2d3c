//! Rounding, in one place: a report carries as many digits as its fields say and no more, so that
//! it can be recomputed elsewhere and compared byte for byte.

/// Decimals of a proportion or a survival: 0.4821 is 48.21 %.
pub const PROPORTION_DECIMALS: u32 = 4;
/// Decimals of a reading of water.
pub const WATER_DECIMALS: u32 = 3;

/// A lower and an upper limit; travels as `[lower, upper]`.
pub type Limits = [f64; 2];

/// Whether there is none of it: such a count is left out of a report.
#[must_use]
pub fn is_none(count: &u64) -> bool {
    *count == 0
}

/// The nearest number with so many decimals, halves away from 0; never `-0`.
#[must_use]
pub fn rounded(value: f64, decimals: u32) -> f64 {
    let scale = 10_f64.powi(decimals.cast_signed());
    (value * scale).round() / scale + 0.0
}

/// A proportion with [`PROPORTION_DECIMALS`].
#[must_use]
pub fn proportion(value: f64) -> f64 {
    rounded(value, PROPORTION_DECIMALS)
}

/// Two limits of a proportion, rounded.
#[must_use]
pub fn limits(interval: selachron_statistics::Interval) -> Limits {
    [proportion(interval.lower), proportion(interval.upper)]
}

/// `48.2 %`, with a space that does not break.
#[must_use]
pub fn percent(part: f64) -> String {
    format!("{:.1}\u{a0}%", part * 100.0)
}

/// `35.7 to 61.0 %`, with spaces that do not break.
#[must_use]
pub fn percent_range([lower, upper]: Limits) -> String {
    format!("{:.1}\u{a0}to\u{a0}{:.1}\u{a0}%", lower * 100.0, upper * 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounding_is_to_the_nearest_and_has_no_negative_zero() {
        assert_eq!(rounded(27.0 / 56.0, 4), 0.4821);
        assert_eq!(rounded(-0.00001, 4).to_bits(), 0.0_f64.to_bits());
        assert_eq!(rounded(2.5, 0), 3.0);
    }

    #[test]
    fn a_rounded_proportion_is_written_with_its_digits() {
        assert_eq!(serde_json::to_string(&proportion(1.0 / 3.0)).expect("a number"), "0.3333");
    }
}
