//! The strict JSON reader: I-JSON (RFC 7493) with the limits of F4. What it accepts means the
//! same to every reader: no duplicate names, no lone surrogates, no noncharacters, no control
//! characters but LF and TAB in a `remark`, no number that a binary64 cannot hold.

use crate::limits::{DEPTH_MAX, JSON_INTEGER_MAX};
use serde::de::{DeserializeSeed, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};
use std::fmt;

/// Reads one JSON value that fills `bytes`; the error is a sentence for a person.
///
/// # Errors
/// The bytes break a rule of F4; size is for the caller to check first.
pub fn parse(bytes: &[u8]) -> Result<Value, String> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let value = Strict { depth: 1, remark: false, in_data: false }.deserialize(&mut reader).map_err(|e| e.to_string())?;
    reader.end().map_err(|e| e.to_string())?;
    Ok(value)
}

/// Where the reader stands: how deep, and whether this value may hold LF and TAB.
#[derive(Clone, Copy)]
struct Strict {
    depth: usize,
    remark: bool,
    in_data: bool,
}

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Value, E> {
        small_enough(value)?;
        Ok(Value::Number(value.into()))
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Value, E> {
        small_enough(value.unsigned_abs())?;
        Ok(Value::Number(value.into()))
    }

    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Value, E> {
        // From 2^53 on every binary64 is a whole number, so this also refuses 1e16.
        #[allow(clippy::cast_precision_loss)]
        if value.abs() > JSON_INTEGER_MAX as f64 {
            return Err(E::custom("a whole number beyond 2^53 - 1"));
        }
        Number::from_f64(value).map(Value::Number).ok_or_else(|| E::custom("a number that is not finite"))
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Value, E> {
        clean(text, self.remark)?;
        Ok(Value::String(text.to_owned()))
    }

    fn visit_string<E: serde::de::Error>(self, text: String) -> Result<Value, E> {
        clean(&text, self.remark)?;
        Ok(Value::String(text))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut sequence: A) -> Result<Value, A::Error> {
        let inner = self.deeper(false)?;
        let mut items = Vec::new();
        while let Some(item) = sequence.next_element_seed(inner)? {
            items.push(item);
        }
        Ok(Value::Array(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Value, A::Error> {
        let inner = self.deeper(false)?;
        let mut object = Map::new();
        while let Some(name) = members.next_key::<String>()? {
            clean(&name, false)?;
            let in_data = self.in_data || (self.depth == 1 && name == "data");
            let remark = self.in_data && name == "remark";
            let value = members.next_value_seed(Strict { remark, in_data, ..inner })?;
            if object.contains_key(&name) {
                return Err(A::Error::custom(format!("the member {name:?} stands twice")));
            }
            object.insert(name, value);
        }
        Ok(Value::Object(object))
    }
}

impl Strict {
    fn deeper<E: serde::de::Error>(self, remark: bool) -> Result<Self, E> {
        if self.depth > DEPTH_MAX {
            return Err(E::custom(format!("nested deeper than {DEPTH_MAX}")));
        }
        Ok(Self { depth: self.depth + 1, remark, in_data: self.in_data })
    }
}

fn small_enough<E: serde::de::Error>(magnitude: u64) -> Result<(), E> {
    if magnitude > JSON_INTEGER_MAX {
        return Err(E::custom("a whole number beyond 2^53 - 1"));
    }
    Ok(())
}

/// Refuses control characters and noncharacters (RFC 7493 2.1; Unicode 23.7).
fn clean<E: serde::de::Error>(text: &str, remark: bool) -> Result<(), E> {
    for character in text.chars() {
        let code = character as u32;
        let control = character.is_control() && !(remark && matches!(character, '\n' | '\t'));
        if control {
            return Err(E::custom(format!("the control character U+{code:04X} in a string; only a remark may hold LF and TAB")));
        }
        if (0xFDD0..=0xFDEF).contains(&code) || code & 0xFFFE == 0xFFFE {
            return Err(E::custom(format!("the noncharacter U+{code:04X} in a string")));
        }
    }
    Ok(())
}
