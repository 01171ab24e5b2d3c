//! Letters that none of the faces has. Neither standard lets a file show the box that stands for a missing
//! letter (ISO 19005-3, 6.2.11.8, and ISO 14289-1, 7.21.8; from memory), so one label in another script would leave the house
//! without its report. They are printed as [`MISSING`], and the page says so; the attached JSON has them.

use serde_json::Value;

/// What is printed for letters that no face has, however many stand together.
pub const MISSING: &str = "[?]";

/// Puts [`MISSING`] into every text of `told` where `has` knows no shape; whether there was such a place.
pub fn replace_missing(told: &mut Value, has: &impl Fn(char) -> bool) -> bool {
    match told {
        Value::String(text) => match printable(text, has) {
            Some(replaced) => {
                let missing = replaced.matches(MISSING).count() > text.matches(MISSING).count();
                *text = replaced;
                missing
            }
            None => false,
        },
        // Each is looked at, so no `any`.
        Value::Array(items) => items.iter_mut().fold(false, |found, item| replace_missing(item, has) | found),
        Value::Object(members) => members.iter_mut().fold(false, |found, (_, value)| replace_missing(value, has) | found),
        _ => false,
    }
}

/// The text as it can be printed; `None` where it can be as it stands.
fn printable(text: &str, has: &impl Fn(char) -> bool) -> Option<String> {
    let stands = |letter: char| letter.is_whitespace() || has(letter);
    if text.chars().all(stands) {
        return None;
    }
    let (mut printed, mut in_gap) = (String::with_capacity(text.len()), false);
    for letter in text.chars().filter(|letter| has(*letter) || !is_never_drawn(*letter)) {
        match (stands(letter), in_gap) {
            (true, _) => printed.push(letter),
            (false, false) => printed.push_str(MISSING),
            (false, true) => {}
        }
        in_gap = !stands(letter);
    }
    Some(printed)
}

/// Joiners, marks of direction and selectors of a variant have no shape of their own (Unicode,
/// `Default_Ignorable_Code_Point`; those that people type).
fn is_never_drawn(letter: char) -> bool {
    matches!(letter, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2064}' | '\u{2066}'..='\u{2069}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_no_face_has_is_one_mark_however_long_it_is() {
        let ascii = |letter: char| letter.is_ascii();
        for (text, wanted) in [
            ("Tank 3", None),
            ("a\u{a0}b\nc", None),
            ("三号池 F-1", Some("[?] F-1")),
            ("一 二", Some("[?] [?]")),
            ("shark 🦈\u{fe0f}\u{200d}🦈.", Some("shark [?].")),
            ("a\u{fe0f}b", Some("ab")),
        ] {
            assert_eq!(printable(text, &ascii).as_deref(), wanted, "{text:?}");
        }
    }

    #[test]
    fn every_text_is_looked_at_and_no_name() {
        let mut told = json!({"é": [{"a": "池"}, "b", 1, null, "[?]"], "c": {"d": "e 池"}});
        assert!(replace_missing(&mut told, &|letter| letter.is_ascii()));
        assert_eq!(told, json!({"é": [{"a": "[?]"}, "b", 1, null, "[?]"], "c": {"d": "e [?]"}}));
        assert!(!replace_missing(&mut told, &|letter| letter.is_ascii()), "nothing is missing any more");
        assert!(!replace_missing(&mut json!("a\u{fe0f}"), &|letter| letter.is_ascii()), "what is never drawn is not missed");
    }
}
