//! Results go to stdout, talk goes to stderr; `--json` makes every result JSON.

use serde_json::Value;
use std::io::Write as _;

/// Where a command speaks.
#[derive(Debug, Clone, Copy)]
pub struct Console {
    /// Results as JSON.
    pub json: bool,
}

impl Console {
    /// A result: its JSON, or its text for a person.
    pub fn result(self, value: &Value, text: impl FnOnce() -> String) {
        if self.json {
            put(&value.to_string());
        } else {
            let text = text();
            put(text.trim_end());
        }
    }

    /// A result that is the same for everybody: a file's text.
    pub fn plain(self, text: &str) {
        put(text.trim_end());
    }

    /// Talk: what a person should know, never a result.
    pub fn say(self, text: &str) {
        let _ = writeln!(std::io::stderr().lock(), "{text}");
    }
}

/// A reader that has gone away (`| head`) is no fault of ours.
fn put(text: &str) {
    let _ = writeln!(std::io::stdout().lock(), "{text}");
}
