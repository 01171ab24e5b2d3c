//! Whole numbers in data, however they are written.

use serde::{Deserialize, Deserializer};

/// A whole number, however it is written (F4: `7`, `7.0` and `70e-1` are one number).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Whole(pub u64);

impl<'de> Deserialize<'de> for Whole {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let number = serde_json::Number::deserialize(deserializer)?;
        let from_float = || number.as_f64().filter(|float| float.fract() == 0.0 && (0.0..9.1e15).contains(float));
        // The range was checked: the cast is exact.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole and in range")]
        let whole = number.as_u64().or_else(|| from_float().map(|float| float as u64));
        whole.map(Self).ok_or_else(|| serde::de::Error::custom("not a whole number"))
    }
}

/// Reads an optional whole number; for `deserialize_with`.
///
/// # Errors
/// It is not whole, or out of range.
pub fn whole<'de, D: Deserializer<'de>, T: TryFrom<u64>>(deserializer: D) -> Result<Option<T>, D::Error> {
    let Whole(number) = Whole::deserialize(deserializer)?;
    T::try_from(number).map(Some).map_err(|_| serde::de::Error::custom("a number out of range"))
}
