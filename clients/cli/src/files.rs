//! Files that are whole or not there at all, and locks that hold between processes.

use crate::fault::Fault;
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// A sentence about a file that could not be read or written.
pub fn fault(what: &str, path: &Path, error: &std::io::Error) -> Fault {
    Fault::Failed(format!("cannot {what} {}: {error}", path.display()))
}

/// `path` with something added to its last part.
#[must_use]
pub fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(ending);
    path.with_file_name(name)
}

/// Reads a file; `None` when there is none.
///
/// # Errors
/// Any fault but its absence.
pub fn read(path: &Path) -> Result<Option<Vec<u8>>, Fault> {
    match std::fs::read(path) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        Err(error) => Err(fault("read", path, &error)),
    }
}

/// Reads a text file; `None` when there is none.
///
/// # Errors
/// Any fault but its absence; bytes that are not UTF-8.
pub fn read_text(path: &Path) -> Result<Option<String>, Fault> {
    let bytes = read(path)?;
    bytes.map(String::from_utf8).transpose().map_err(|_| Fault::Failed(format!("{} is not UTF-8 text", path.display())))
}

/// Makes a folder that only its owner may enter, and those above it.
///
/// # Errors
/// It cannot be made.
pub fn make_folder(path: &Path) -> Result<(), Fault> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path).map_err(|error| fault("make the folder", path, &error))
}

/// Writes a file that only its owner may read, and that must not exist yet.
///
/// # Errors
/// It exists, or cannot be written.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    let file = private().create_new(true).open(path).map_err(|error| fault("make", path, &error))?;
    fill(file, path, bytes)?;
    sync_folder_of(path)
}

/// Replaces a file in one step: after a crash it holds the old bytes or the new, never a part.
///
/// # Errors
/// It cannot be written.
pub fn replace(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    static REPLACED: AtomicU64 = AtomicU64::new(0);
    let fresh = beside(path, &format!(".new-{}-{}", std::process::id(), REPLACED.fetch_add(1, Ordering::Relaxed)));
    let file = private().create(true).truncate(true).open(&fresh).map_err(|error| fault("make", &fresh, &error))?;
    fill(file, &fresh, bytes)?;
    std::fs::rename(&fresh, path).map_err(|error| fault("replace", path, &error))?;
    sync_folder_of(path)
}

/// Removes a file; that it is gone already is no fault.
///
/// # Errors
/// It is there and cannot be removed.
pub fn remove(path: &Path) -> Result<(), Fault> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != ErrorKind::NotFound => Err(fault("remove", path, &error)),
        _ => Ok(()),
    }
}

/// What is being put together beside a name, until it gets that name. It is locked meanwhile, so that a
/// later run can tell it from what a killed one left. Dropped before it has its name, it is removed.
#[derive(Debug)]
pub struct Partial {
    path: PathBuf,
    /// `None` where the system locks no folders.
    _held: Option<File>,
    placed: bool,
}

const PARTIAL: &str = ".partial-";

impl Partial {
    /// A file beside `out`, to be written.
    ///
    /// # Errors
    /// It cannot be made.
    pub fn file(out: &Path) -> Result<(Self, File), Fault> {
        let path = swept(out);
        let file = OpenOptions::new().write(true).create_new(true).open(&path).map_err(|error| fault("make", &path, &error))?;
        let held = file.try_clone().ok().filter(|file| file.try_lock().is_ok());
        Ok((Self { path, _held: held, placed: false }, file))
    }

    /// A folder beside `out`, to be filled.
    ///
    /// # Errors
    /// It cannot be made.
    pub fn folder(out: &Path) -> Result<Self, Fault> {
        let path = swept(out);
        make_folder(&path)?;
        let held = File::open(&path).ok().filter(|folder| folder.try_lock().is_ok());
        Ok(Self { path, _held: held, placed: false })
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Gives it its name; what is in it has been synced already.
    ///
    /// # Errors
    /// Something stands there; then nothing is left.
    pub fn place(mut self, out: &Path) -> Result<(), Fault> {
        std::fs::rename(&self.path, out).map_err(|error| fault("make", out, &error))?;
        self.placed = true;
        sync_folder_of(out)
    }
}

impl Drop for Partial {
    fn drop(&mut self) {
        if !self.placed {
            remove_all(&self.path);
        }
    }
}

/// Half of something is nobody's.
fn remove_all(path: &Path) {
    let _ = if path.is_dir() { std::fs::remove_dir_all(path) } else { std::fs::remove_file(path) };
}

/// The name of what this process puts together beside `out`. What runs that were killed left there is removed
/// first; what another one is writing now is locked, and stays.
fn swept(out: &Path) -> PathBuf {
    let begins = format!("{}{PARTIAL}", out.file_name().unwrap_or_default().to_string_lossy());
    let entries = std::fs::read_dir(folder_of(out)).into_iter().flatten().flatten();
    for entry in entries {
        let ours =
            entry.file_name().to_string_lossy().strip_prefix(&begins).is_some_and(|pid| pid.bytes().all(|byte| byte.is_ascii_digit()));
        let plain = entry.file_type().is_ok_and(|kind| kind.is_dir() || kind.is_file());
        if ours && plain && File::open(entry.path()).is_ok_and(|left| left.try_lock().is_ok()) {
            remove_all(&entry.path());
        }
    }
    beside(out, &format!("{PARTIAL}{}", std::process::id()))
}

/// Lets a folder's names reach the disk.
///
/// # Errors
/// It cannot be read or synced.
pub fn sync_folder(folder: &Path) -> Result<(), Fault> {
    #[cfg(unix)]
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(|error| fault("write", folder, &error))?;
    #[cfg(not(unix))]
    let _ = folder;
    Ok(())
}

fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

fn private() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

fn fill(mut file: File, path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(|error| fault("write", path, &error))
}

/// A new name is durable only once its folder is (POSIX rename and fsync).
fn sync_folder_of(path: &Path) -> Result<(), Fault> {
    sync_folder(folder_of(path))
}

/// A lock of the operating system; it ends with this value, or with the process.
#[derive(Debug)]
pub struct Lock(#[expect(dead_code, reason = "the open file is the lock")] File);

impl Lock {
    /// Waits for the lock on `path`, which is made if need be.
    ///
    /// # Errors
    /// The file cannot be made or locked.
    pub fn take(path: &Path) -> Result<Self, Fault> {
        let file = private().create(true).truncate(false).open(path).map_err(|error| fault("open the lock", path, &error))?;
        file.lock().map_err(|error| fault("lock", path, &error))?;
        Ok(Self(file))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(folder).expect("a folder").flatten();
        let mut names: Vec<String> = entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// What a killed run left is swept by the next one; what another one is writing is not, nor what only
    /// looks like it.
    #[test]
    fn what_a_killed_run_left_is_swept() {
        let folder = tempfile::tempdir().expect("a folder");
        let out = folder.path().join("tables");
        let left = |name: &str| folder.path().join(name);
        std::fs::create_dir(left("tables.partial-1")).expect("half a folder");
        std::fs::write(left("tables.partial-1/eggs.csv"), "half").expect("half a table");
        std::fs::write(left("tables.partial-2"), "half").expect("half a file");
        std::fs::write(left("tables.partial-of-mine"), "a letter").expect("a file");
        std::fs::create_dir(left("tables.partial-3")).expect("a folder");
        let another = File::open(left("tables.partial-3")).expect("another run's folder");
        another.lock().expect("it is being written");
        let partial = Partial::folder(&out).expect("a folder");
        let own = partial.path().file_name().expect("a name").to_string_lossy().into_owned();
        let mut wanted = vec!["tables.partial-3".to_owned(), "tables.partial-of-mine".to_owned(), own];
        wanted.sort();
        assert_eq!(names(folder.path()), wanted);
        drop(partial);
        drop(another);
        let (file, _) = Partial::file(&out).expect("a file");
        file.place(&out).expect("it gets its name");
        assert_eq!(names(folder.path()), ["tables", "tables.partial-of-mine"]);
    }
}
