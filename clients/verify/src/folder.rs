//! Reads a bundle from disk. Nothing is judged here but what no text can show: links and other
//! things that are no ordinary file.

use selachron_schemas::audit::folder::{Content, Folder, only_hashed};
use selachron_schemas::limits::BUNDLE_FILE_BYTES_MAX;
use selachron_schemas::merkle::Hash;
use sha2::{Digest as _, Sha256};
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// Why a bundle could not be read at all.
#[derive(Debug, thiserror::Error)]
pub enum Unreadable {
    /// There is nothing of this name, or it is no folder.
    #[error("{0}: there is no such folder")]
    NoFolder(PathBuf),
    /// The system refused.
    #[error("{path}: {source}; nothing was checked")]
    Io {
        /// What could not be read.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Larger than this program reads.
    #[error("{path}: {bytes} bytes; at most {BUNDLE_FILE_BYTES_MAX} are read; nothing was checked")]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its size.
        bytes: u64,
    },
}

/// Reads all files below `path`.
///
/// # Errors
/// There is no such folder, or something in it cannot be read.
pub fn read(path: &Path) -> Result<Folder, Unreadable> {
    if !path.is_dir() {
        return Err(Unreadable::NoFolder(path.to_owned()));
    }
    let mut folder = Folder::default();
    read_into(&mut folder, path, "")?;
    Ok(folder)
}

/// Links are never followed: what they lead to is not in the bundle.
fn read_into(folder: &mut Folder, path: &Path, before: &str) -> Result<(), Unreadable> {
    let failed = |source| Unreadable::Io { path: path.to_owned(), source };
    for entry in fs::read_dir(path).map_err(failed)? {
        let entry = entry.map_err(failed)?;
        let (kind, found) = (entry.file_type().map_err(failed)?, entry.path());
        let name = match entry.file_name().into_string() {
            Ok(name) => format!("{before}{name}"),
            Err(name) => {
                folder.strange.push(format!("{before}{}", name.to_string_lossy()));
                continue;
            }
        };
        if kind.is_dir() {
            read_into(folder, &found, &format!("{name}/"))?;
        } else if kind.is_file() {
            let content = content(&found, &name)?;
            folder.files.insert(name, content);
        } else {
            folder.strange.push(name);
        }
    }
    Ok(())
}

fn content(path: &Path, name: &str) -> Result<Content, Unreadable> {
    let failed = |source| Unreadable::Io { path: path.to_owned(), source };
    if only_hashed(name) {
        return Ok(Content::Hashed(hash(path).map_err(failed)?));
    }
    let bytes = fs::metadata(path).map_err(failed)?.len();
    if bytes > BUNDLE_FILE_BYTES_MAX {
        return Err(Unreadable::TooLarge { path: path.to_owned(), bytes });
    }
    fs::read(path).map(Content::Text).map_err(failed)
}

/// Photos and reports may be many and large; only their hash is asked.
fn hash(path: &Path) -> io::Result<Hash> {
    let mut hasher = Hasher(Sha256::new());
    io::copy(&mut File::open(path)?, &mut hasher)?;
    Ok(hasher.0.finalize().into())
}

struct Hasher(Sha256);

impl io::Write for Hasher {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
