//! Files that are whole or not there at all, and locks that hold between processes.

use crate::fault::Fault;
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};

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
    let fresh = beside(path, &format!(".new-{}", std::process::id()));
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
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    #[cfg(unix)]
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(|error| fault("write", folder, &error))?;
    #[cfg(not(unix))]
    let _ = folder;
    Ok(())
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
