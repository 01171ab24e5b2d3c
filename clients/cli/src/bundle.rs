//! Taking the log away as a folder (F25). The archive comes over the wire, so nothing in it may
//! reach outside the folder, replace a file, or be anything but a plain file.

use crate::client::Client;
use crate::fault::Fault;
use crate::files;
use crate::transport::Stream;
use selachron_schemas::encoding::hex;
use selachron_schemas::limits::{ARCHIVE_BYTES_MAX, BUNDLE_FILE_BYTES_MAX, BUNDLE_FILES_MAX};
use selachron_schemas::merkle::sha256;
use selachron_schemas::note::SignedCheckpoint;
use std::collections::BTreeSet;
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
    pub fn get_stream(&self, path: &str, accept: &str) -> Result<Stream, Fault> {
        self.get_stream_of(path, &[], accept)
    }

    /// The same, with a query.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn get_stream_of(&self, path: &str, query: &[(&str, &str)], accept: &str) -> Result<Stream, Fault> {
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
        let partial = files::Partial::folder(folder)?;
        let (files, bytes) = unpack_within(stream, partial.path(), &OF_A_BUNDLE)?;
        let checkpoint = read_checkpoint(partial.path())?;
        self.accept(&checkpoint, &log_key, None)?;
        // An empty folder of that name may stand there; it is replaced.
        partial.place(folder)?;
        Ok(Taken { files, bytes, checkpoint })
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

/// How much may come out of an archive.
struct Limits {
    files: usize,
    file_bytes: u64,
    bytes: u64,
}

/// The verifier reads each file of a bundle whole.
const OF_A_BUNDLE: Limits = Limits { files: BUNDLE_FILES_MAX, file_bytes: BUNDLE_FILE_BYTES_MAX, bytes: ARCHIVE_BYTES_MAX };
const OF_AN_EXPORT: Limits = Limits { files: BUNDLE_FILES_MAX, file_bytes: ARCHIVE_BYTES_MAX, bytes: ARCHIVE_BYTES_MAX };

/// Unpacks a tar stream into a folder; the number of files and their bytes. They have reached the disk
/// when this returns.
///
/// # Errors
/// An entry that is no plain file or folder, a name that leads outside, a file that comes twice,
/// more than the limits allow; a stream that breaks off, be it behind the archive's end.
pub fn unpack(stream: impl Read, folder: &Path) -> Result<(usize, u64), Fault> {
    unpack_within(stream, folder, &OF_AN_EXPORT)
}

fn unpack_within(stream: impl Read, folder: &Path, limits: &Limits) -> Result<(usize, u64), Fault> {
    files::make_folder(folder)?;
    let broken = |error: std::io::Error| Fault::Failed(format!("the archive cannot be read: {error}"));
    let mut archive = tar::Archive::new(stream);
    let (mut count, mut bytes, mut folders) = (0, 0, BTreeSet::from([folder.to_owned()]));
    for entry in archive.entries().map_err(broken)? {
        let mut entry = entry.map_err(broken)?;
        let path = safe_path(&entry.path().map_err(broken)?)?;
        match entry.header().entry_type() {
            tar::EntryType::Directory => continue,
            tar::EntryType::Regular => {}
            other => {
                return Err(Fault::Broken(format!("the archive holds {} as {other:?}; only files belong there", path.display())));
            }
        }
        (count, bytes) = (count + 1, bytes + entry.size());
        check(limits, count, (&path, entry.size()), bytes)?;
        folders.extend(path.ancestors().skip(1).map(|above| folder.join(above)));
        write_entry(&mut entry, &folder.join(path))?;
    }
    drained(archive.into_inner())?;
    folders.iter().try_for_each(|folder| files::sync_folder(folder))?;
    Ok((count, bytes))
}

/// An archive says itself where it ends; only its stream says whether it was meant to end there.
fn drained(mut stream: impl Read) -> Result<(), Fault> {
    let broken = |error: std::io::Error| Fault::Failed(format!("the archive broke off: {error}"));
    std::io::copy(&mut stream, &mut std::io::sink()).map(drop).map_err(broken)
}

fn check(limits: &Limits, count: usize, (path, size): (&Path, u64), bytes: u64) -> Result<(), Fault> {
    if count > limits.files {
        return Err(Fault::Failed(format!("the archive has more than {} files", limits.files)));
    }
    if size > limits.file_bytes {
        return Err(Fault::Failed(format!("{} in the archive has more than {} bytes", path.display(), limits.file_bytes)));
    }
    if bytes > limits.bytes {
        return Err(Fault::Failed(format!("the files of the archive have more than {} bytes together", limits.bytes)));
    }
    Ok(())
}

fn write_entry(entry: &mut impl Read, path: &Path) -> Result<(), Fault> {
    if let Some(folder) = path.parent() {
        files::make_folder(folder)?;
    }
    let file = std::fs::OpenOptions::new().write(true).create_new(true).open(path);
    let mut file = file.map_err(|error| files::fault("make", path, &error))?;
    std::io::copy(entry, &mut file).and_then(|_| file.sync_all()).map_err(|error| files::fault("write", path, &error))
}

/// A path made only of plain names.
fn safe_path(path: &Path) -> Result<PathBuf, Fault> {
    let plain = |part: Component<'_>| match part {
        Component::Normal(name) => Some(name.to_owned()),
        _ => None,
    };
    let parts = path.components().filter(|part| *part != Component::CurDir).map(plain).collect::<Option<PathBuf>>();
    let outside = || Fault::Broken(format!("the archive names {:?}, which leads outside its folder", path.display().to_string()));
    parts.ok_or_else(outside)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tar_of(files: &[(&str, usize)]) -> Vec<u8> {
        let mut tar = tar::Builder::new(Vec::new());
        for (name, size) in files {
            let mut header = tar::Header::new_ustar();
            header.set_size(*size as u64);
            tar.append_data(&mut header, name, vec![b'x'; *size].as_slice()).expect("a tar");
        }
        tar.into_inner().expect("its end")
    }

    /// One file may be so large and all of them so large: the sum is not judged by the limit of one.
    #[test]
    fn a_file_and_all_files_have_limits_of_their_own() {
        let limits = Limits { files: 3, file_bytes: 4, bytes: 10 };
        let said = |files: &[(&str, usize)]| {
            let folder = tempfile::tempdir().expect("a folder");
            unpack_within(&tar_of(files)[..], &folder.path().join("out"), &limits).map_err(|fault| fault.to_string())
        };
        assert_eq!(said(&[("a", 4), ("b", 4), ("c/d", 2)]), Ok((3, 10)));
        assert_eq!(said(&[("a", 5)]), Err("a in the archive has more than 4 bytes".to_owned()));
        assert_eq!(said(&[("a", 4), ("b", 4), ("c", 3)]), Err("the files of the archive have more than 10 bytes together".to_owned()));
        assert_eq!(said(&[("a", 0), ("b", 0), ("c", 0), ("d", 0)]), Err("the archive has more than 3 files".to_owned()));
    }

    /// What is unpacked may be no bundle, and is not called one.
    #[test]
    fn a_fault_of_an_archive_is_not_told_of_a_bundle() {
        let folder = tempfile::tempdir().expect("a folder");
        let fault = unpack(&b"this is no tar, and has no header either"[..], &folder.path().join("tables")).expect_err("no tar");
        assert!(fault.to_string().starts_with("the archive cannot be read") && !fault.to_string().contains("bundle"), "{fault}");
    }
}
