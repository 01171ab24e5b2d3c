//! Who the pseudonyms are, as the institution writes it into a file beside the log: names stand
//! in no note, no bundle and no issued report, and can be changed or struck out at any time.
//!
//! ```toml
//! [people]
//! "person/01JDH3G6C0PERS000000000003" = "Keeper of the warm trays"
//! ```

use crate::failure::{Failure, Setup, io};
use selachron_schemas::limits::{PEOPLE_FILE_BYTES_MAX, PERSON_NAME_CHARS_MAX};
use selachron_schemas::names::is_person;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// The file, in the log's folder.
pub const PEOPLE_FILE: &str = "people.toml";

/// The institution's own list of names.
#[derive(Debug, Clone, Default)]
pub struct Directory {
    path: PathBuf,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    people: BTreeMap<String, String>,
}

impl Directory {
    /// The list in the folder of a log.
    #[must_use]
    pub fn in_folder(folder: &Path) -> Self {
        Self { path: folder.join(PEOPLE_FILE) }
    }

    /// Shown names by pseudonym. It is read anew each time, so that an edit counts at once; no
    /// file means no names.
    ///
    /// # Errors
    /// The file cannot be read, or does not say what it may.
    pub fn read(&self) -> Result<BTreeMap<String, String>, Failure> {
        let mut text = String::new();
        match std::fs::File::open(&self.path) {
            Ok(file) => {
                let read = file.take(PEOPLE_FILE_BYTES_MAX + 1).read_to_string(&mut text);
                read.map_err(|error| io(format!("reading {}", self.path.display()), &error))?;
            }
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(BTreeMap::new()),
            Err(error) => return Err(io(format!("reading {}", self.path.display()), &error)),
        }
        parse(&text).map_err(|reason| Setup::Refused(format!("{}: {reason}", self.path.display())).into())
    }
}

fn parse(text: &str) -> Result<BTreeMap<String, String>, String> {
    if text.len() as u64 > PEOPLE_FILE_BYTES_MAX {
        return Err(format!("it has more than {PEOPLE_FILE_BYTES_MAX} bytes"));
    }
    let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
    for (person, name) in &file.people {
        if !is_person(person) {
            return Err(format!("{person:?} is no pseudonym of the form person/<ULID>"));
        }
        let length = name.chars().count();
        if !(1..=PERSON_NAME_CHARS_MAX).contains(&length) || name.chars().any(char::is_control) {
            return Err(format!("the name of {person} must have 1 to {PERSON_NAME_CHARS_MAX} characters, none a control character"));
        }
    }
    Ok(file.people)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PERSON: &str = "person/01JDH3G6C0PERS000000000003";

    #[test]
    fn names_are_read_anew_each_time() {
        let folder = tempfile::tempdir().unwrap();
        let directory = Directory::in_folder(folder.path());
        assert!(directory.read().unwrap().is_empty());
        for name in ["One", "Another"] {
            std::fs::write(folder.path().join(PEOPLE_FILE), format!("[people]\n\"{PERSON}\" = \"{name}\"\n")).unwrap();
            assert_eq!(directory.read().unwrap()[PERSON], name);
        }
    }

    #[test]
    fn what_the_file_may_not_say_is_refused_by_name() {
        let long = "x".repeat(PERSON_NAME_CHARS_MAX + 1);
        for (text, wanted) in [
            ("[people]\nkeeper = \"K\"".to_owned(), "keeper"),
            (format!("[people]\n\"{PERSON}\" = \"\""), PERSON),
            (format!("[people]\n\"{PERSON}\" = \"{long}\""), PERSON),
            (format!("[people]\n\"{PERSON}\" = \"a\\u0007b\""), PERSON),
            ("[persons]".to_owned(), "persons"),
        ] {
            let said = parse(&text).unwrap_err();
            assert!(said.contains(wanted), "{text}: {said}");
        }
        assert!(parse(&format!("[people]\n\"{PERSON}\" = \"{}\"", &long[1..])).is_ok());
    }
}
