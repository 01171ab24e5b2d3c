//! `selachron compute`, run as a program.
//!
//! * [`examples`]: one example input and answer for each verb;
//! * [`fates`]: from sightings to rows, and from a log;
//! * [`oracles`]: every reference file, at its tolerance; [`water`]: that of the water;
//! * [`plots`]: the drawings;
//! * [`wrong`]: inputs that are wrong, one sentence each.

mod examples;

mod fates;

mod oracles;

mod plots;

mod water;

mod wrong;

use serde_json::Value;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What one call said.
pub struct Said {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Said {
    #[track_caller]
    pub fn json(&self) -> Value {
        assert_eq!(self.code, 0, "{}", self.err);
        serde_json::from_str(self.out.trim()).unwrap_or_else(|error| panic!("{error}: {}", self.out))
    }

    /// One sentence on stderr, nothing on stdout.
    #[track_caller]
    pub fn fails(&self, code: i32, words: &[&str]) {
        assert_eq!(self.code, code, "{}\n{}", self.out, self.err);
        assert_eq!(self.out, "", "nothing half printed");
        for word in words {
            assert!(self.err.contains(word), "{word:?} is missing in: {}", self.err);
        }
    }
}

/// A file of the reference data.
pub fn reference(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name)
}

pub fn reference_json(name: &str) -> Value {
    let text = std::fs::read_to_string(reference(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// `selachron compute …` with this text as its stdin.
pub fn compute_on(arguments: &[&str], input: &[u8]) -> Said {
    let mut command = Command::new(env!("CARGO_BIN_EXE_selachron"));
    command.arg("compute").args(arguments).env_clear();
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("the program runs");
    let mut stdin = child.stdin.take().expect("a pipe");
    // A program that refuses its first line reads no further; that is not the writer's fault.
    let _ = stdin.write_all(input);
    drop(stdin);
    let output = child.wait_with_output().expect("the program ends");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    Said { code: output.status.code().unwrap_or(-1), out: text(output.stdout), err: text(output.stderr) }
}

/// The same without stdin.
pub fn compute(arguments: &[&str]) -> Said {
    compute_on(arguments, b"")
}

/// The same on a file of the reference data, given as the last argument.
#[track_caller]
pub fn compute_file(arguments: &[&str], name: &str) -> Value {
    let path = reference(name);
    let mut arguments = arguments.to_vec();
    arguments.push(path.to_str().expect("a path of text"));
    compute(&arguments).json()
}

/// Both have the same members; numbers lie within a distance of each other.
#[track_caller]
pub fn assert_same(found: &Value, expected: &Value, within: f64) {
    if let Err(difference) = same("", found, expected, within) {
        panic!("{difference}");
    }
}

fn same(at: &str, found: &Value, expected: &Value, within: f64) -> Result<(), String> {
    match (found, expected) {
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap_or(f64::NAN), b.as_f64().unwrap_or(f64::NAN));
            if (a - b).abs() <= within { Ok(()) } else { Err(format!("{at}: {a}, expected {b}")) }
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            a.iter().zip(b).enumerate().try_for_each(|(index, (a, b))| same(&format!("{at}/{index}"), a, b, within))
        }
        (Value::Object(a), Value::Object(b)) => {
            let names = |object: &serde_json::Map<String, Value>| object.keys().cloned().collect::<std::collections::BTreeSet<_>>();
            if names(a) != names(b) {
                return Err(format!("{at}: members {:?}, expected {:?}", names(a), names(b)));
            }
            b.iter().try_for_each(|(name, value)| same(&format!("{at}/{name}"), &a[name], value, within))
        }
        _ if found == expected => Ok(()),
        _ => Err(format!("{at}: {found}, expected {expected}")),
    }
}
