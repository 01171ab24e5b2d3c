//! Base64 and hexadecimal as the format writes them: padded, slack bits zero (F3).

use base64::Engine as _;
use base64::engine::general_purpose::{STANDARD, URL_SAFE, URL_SAFE_NO_PAD};
use std::fmt::Write as _;

/// Standard padded base64, the only form we write.
#[must_use]
pub fn base64(bytes: &[u8]) -> String {
    STANDARD.encode(bytes)
}

/// Reads standard padded base64; anything else is `None`.
#[must_use]
pub fn from_base64(text: &str) -> Option<Vec<u8>> {
    STANDARD.decode(text).ok()
}

/// Reads exactly 32 bytes of standard base64.
#[must_use]
pub fn from_base64_32(text: &str) -> Option<[u8; 32]> {
    from_base64(text)?.try_into().ok()
}

/// Reads either base64 alphabet, but one a string, padded, slack bits zero (F7).
#[must_use]
pub fn from_either_base64(text: &str) -> Option<Vec<u8>> {
    if text.bytes().any(|b| b == b'-' || b == b'_') { URL_SAFE.decode(text).ok() } else { STANDARD.decode(text).ok() }
}

/// The form of a nonce: base64url without padding (F5).
#[must_use]
pub fn base64url(bytes: &[u8]) -> String {
    URL_SAFE_NO_PAD.encode(bytes)
}

/// Reads base64url without padding.
#[must_use]
pub fn from_base64url(text: &str) -> Option<Vec<u8>> {
    URL_SAFE_NO_PAD.decode(text).ok()
}

/// Lower-case hexadecimal.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Reads lower-case hexadecimal of exactly `N` bytes.
#[must_use]
pub fn from_hex<const N: usize>(text: &str) -> Option<[u8; N]> {
    if text.len() != N * 2 || !text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
        return None;
    }
    let mut bytes = [0; N];
    for (at, byte) in bytes.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&text[at * 2..at * 2 + 2], 16).ok()?;
    }
    Some(bytes)
}
