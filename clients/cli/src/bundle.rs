//! Taking the log away as a folder (F25). The archive comes over the wire, so nothing in it may
//! reach outside the folder, replace a file, or be anything but a plain file.

use crate::client::Client;
use crate::fault::Fault;
use crate::files;
use selachron_schemas::encoding::hex;
use selachron_schemas::limits::{BUNDLE_FILE_BYTES_MAX, BUNDLE_FILES_MAX};
use selachron_schemas::merkle::sha256;
use selachron_schemas::note::SignedCheckpoint;
use std::io::Read;
use std::path::{Component, Path, PathBuf};

/// A bundle that was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// Files written.
    pub files: usize,
    /// Their bytes together.
    pub bytes: u64,
    /// The checkpoint it reaches, verified under the pinned key and consistent with what this
    /// machine has seen.
    pub checkpoint: SignedCheckpoint,
}

impl Client {
    /// Reads a stream, such as a bundle.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn get_stream(&self, path: &str, accept: &str) -> Result<impl std::io::Read + use<>, Fault> {
        self.get_stream_of(path, &[], accept)
    }

    /// The same, with a query.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn get_stream_of(&self, path: &str, query: &[(&str, &str)], accept: &str) -> Result<impl std::io::Read + use<>, Fault> {
        self.reading(|token| self.transport().get_stream(path, query, accept, token))
    }

    /// Sends a file that a recorded note names by its SHA-256, so that the service keeps it and
    /// bundles carry it; its SHA-256, in hexadecimal.
    ///
    /// # Errors
    /// Unreachable; no note names it; it is too large; the key to read with is not in force.
    pub fn keep_file(&self, bytes: &[u8]) -> Result<String, Fault> {
        let name = hex(&sha256(bytes));
        self.reading(|token| self.transport().put(&format!("/v1/evidence/{name}"), bytes, token))?;
        Ok(name)
    }

    /// Takes the log's bundle into `folder`, which must not exist or be empty. It appears whole
    /// or not at all. Its checkpoint is checked here; all the rest is for `selachron-verify`.
    ///
    /// # Errors
    /// The folder is not empty, the archive is unfit, its checkpoint does not hold, unreachable.
    pub fn bundle(&self, folder: &Path) -> Result<Taken, Fault> {
        check_empty(folder)?;
        let log_key = self.log_key()?;
        let stream = self.get_stream("/v1/log/bundle", "application/x-tar")?;
        let partial = files::beside(folder, &format!(".partial-{}", std::process::id()));
        let taken = unpack(stream, &partial).and_then(|(files, bytes)| {
            let checkpoint = read_checkpoint(&partial)?;
            self.accept(&checkpoint, &log_key, None)?;
            put_in_place(&partial, folder)?;
            Ok(Taken { files, bytes, checkpoint })
        });
        if taken.is_err() {
            // What is left of a failed attempt is nobody's evidence.
            let _ = std::fs::remove_dir_all(&partial);
        }
        taken
    }
}

fn check_empty(folder: &Path) -> Result<(), Fault> {
    match std::fs::read_dir(folder).map(|mut entries| entries.next().is_none()) {
        Ok(true) => Ok(()),
        Ok(false) => Err(Fault::Usage(format!("{} is not empty; name a folder that does not exist yet", folder.display()))),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(error) => Err(files::fault("read", folder, &error)),
    }
}

fn read_checkpoint(folder: &Path) -> Result<SignedCheckpoint, Fault> {
    let text = files::read_text(&folder.join("checkpoint"))?;
    let text = text.ok_or_else(|| Fault::Broken("the bundle holds no checkpoint".to_owned()))?;
    SignedCheckpoint::parse(&text).map_err(|reason| Fault::Broken(format!("the bundle's checkpoint cannot be read: {reason}")))
}

fn put_in_place(partial: &Path, folder: &Path) -> Result<(), Fault> {
    // An empty folder of that name may stand there; rename replaces it.
    std::fs::rename(partial, folder).map_err(|error| files::fault("make", folder, &error))
}

/// Unpacks a tar stream into a new folder; the number of files and their bytes.
///
/// # Errors
/// An entry that is no plain file or folder, a name that leads outside, a file that comes twice,
/// more than the limits allow.
pub fn unpack(stream: impl Read, folder: &Path) -> Result<(usize, u64), Fault> {
    files::make_folder(folder)?;
    let broken = |error: std::io::Error| Fault::Failed(format!("the bundle's archive cannot be read: {error}"));
    let mut archive = tar::Archive::new(stream);
    let (mut count, mut bytes) = (0, 0);
    for entry in archive.entries().map_err(broken)? {
        let mut entry = entry.map_err(broken)?;
        let path = safe_path(&entry.path().map_err(broken)?)?;
        match entry.header().entry_type() {
            tar::EntryType::Directory => continue,
            tar::EntryType::Regular => {}
            other => {
                return Err(Fault::Broken(format!("the bundle's archive holds {} as {other:?}; only files belong there", path.display())));
            }
        }
        count += 1;
        bytes += entry.size();
        if count > BUNDLE_FILES_MAX || bytes > BUNDLE_FILE_BYTES_MAX {
            return Err(Fault::Failed(format!("the bundle has more than {BUNDLE_FILES_MAX} files or {BUNDLE_FILE_BYTES_MAX} bytes")));
        }
        write_entry(&mut entry, &folder.join(path))?;
    }
    Ok((count, bytes))
}

fn write_entry(entry: &mut impl Read, path: &Path) -> Result<(), Fault> {
    if let Some(folder) = path.parent() {
        files::make_folder(folder)?;
    }
    let file = std::fs::OpenOptions::new().write(true).create_new(true).open(path);
    let mut file = file.map_err(|error| files::fault("make", path, &error))?;
    std::io::copy(entry, &mut file).map_err(|error| files::fault("write", path, &error))?;
    Ok(())
}

/// A path made only of plain names.
fn safe_path(path: &Path) -> Result<PathBuf, Fault> {
    let plain = |part: Component<'_>| match part {
        Component::Normal(name) => Some(name.to_owned()),
        _ => None,
    };
    let parts = path.components().filter(|part| *part != Component::CurDir).map(plain).collect::<Option<PathBuf>>();
    let outside = || Fault::Broken(format!("the bundle's archive names {:?}, which leads outside its folder", path.display().to_string()));
    parts.ok_or_else(outside)
}
