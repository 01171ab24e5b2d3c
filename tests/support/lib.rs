//! What tests and benches share.
//!
//! * [`fixture`]: keys and signed notes;
//! * [`world`]: a founded log, the real service and the real client, audited when a test ends.

pub mod fixture;

pub mod world;

use std::path::{Path, PathBuf};

/// The top of the tree.
#[must_use]
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ stands below the top")
}

/// A file of `tests/reference`: check data with its source named beside it.
#[must_use]
pub fn reference(name: &str) -> PathBuf {
    root().join("tests/reference").join(name)
}

/// Compares with `tests/golden/<name>`; `UPDATE_GOLDEN=1` rewrites it for review. `name` stands
/// in the test as one string, so that no golden file is left behind when its test goes.
///
/// # Panics
/// The two differ, or the file cannot be read or written.
#[track_caller]
pub fn golden(name: &str, found: &str) {
    let rewrite = std::env::var_os("UPDATE_GOLDEN").is_some_and(|value| value == "1");
    if let Err(difference) = golden_in(&root().join("tests/golden"), name, found, rewrite) {
        panic!("{difference}");
    }
}

/// Compares with a file below `folder`, or rewrites it.
///
/// # Errors
/// What differs and what to do, for the person who runs the tests.
pub fn golden_in(folder: &Path, name: &str, found: &str, rewrite: bool) -> Result<(), String> {
    let path = folder.join(name);
    if rewrite {
        let parent = path.parent().unwrap_or(folder);
        let written = std::fs::create_dir_all(parent).and_then(|()| std::fs::write(&path, found));
        return written.map_err(|e| format!("{}: {e}", path.display()));
    }
    let wanted = std::fs::read_to_string(&path)
        .map_err(|e| format!("tests/golden/{name} cannot be read ({e}); if the test is new, set UPDATE_GOLDEN=1 and review the file"))?;
    first_difference(&wanted, found).map_or(Ok(()), |place| {
        Err(format!("tests/golden/{name} differs {place}\nIf it should, set UPDATE_GOLDEN=1 and review the change."))
    })
}

/// Where two texts part, in words.
fn first_difference(wanted: &str, found: &str) -> Option<String> {
    if wanted == found {
        return None;
    }
    let (mut old, mut new) = (wanted.split('\n'), found.split('\n'));
    for line in 1.. {
        match (old.next(), new.next()) {
            (None, None) => break,
            (a, b) if a == b => {}
            (a, b) => {
                let shown = |side: Option<&str>| side.map_or_else(|| "the end".to_owned(), |text| format!("{text:?}"));
                return Some(format!("from line {line} on:\n  wanted {}\n  found  {}", shown(a), shown(b)));
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::golden_in;

    #[test]
    fn a_golden_file_is_compared_and_rewritten() {
        let folder = tempfile::tempdir().unwrap();
        let unread = golden_in(folder.path(), "a/b.txt", "one\ntwo\n", false).unwrap_err();
        assert!(unread.contains("UPDATE_GOLDEN=1"), "{unread}");
        golden_in(folder.path(), "a/b.txt", "one\ntwo\n", true).unwrap();
        golden_in(folder.path(), "a/b.txt", "one\ntwo\n", false).unwrap();
        let differs = golden_in(folder.path(), "a/b.txt", "one\n2\n", false).unwrap_err();
        assert!(differs.contains("from line 2 on") && differs.contains("\"two\""), "{differs}");
        assert!(golden_in(folder.path(), "a/b.txt", "one\ntwo", false).unwrap_err().contains("line 3"));
    }
}
