//! Files that notes name by their SHA-256: issued reports, photos, papers. They stand beside the
//! log, each under its hash, and nothing of the log's proofs rests on them.

use crate::failure::{Failure, io};
use selachron_schemas::encoding::hex;
use selachron_schemas::merkle::{Hash, sha256};
use std::fs::{self, File};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// The folder beside the log.
const FOLDER: &str = "evidence";

/// The files that are kept.
#[derive(Debug, Clone)]
pub struct Evidence(PathBuf);

impl Evidence {
    /// Those of the log in `data_dir`.
    #[must_use]
    pub fn of(data_dir: &Path) -> Self {
        Self(data_dir.join(FOLDER))
    }

    /// Where the file with that hash is, if it is kept.
    #[must_use]
    pub fn find(&self, hash: &Hash) -> Option<PathBuf> {
        Some(self.place(hash)).filter(|path| path.is_file())
    }

    /// The bytes of the file with that hash, if it is kept.
    ///
    /// # Errors
    /// It cannot be read.
    pub fn read(&self, hash: &Hash) -> Result<Option<Vec<u8>>, Failure> {
        let Some(path) = self.find(hash) else { return Ok(None) };
        fs::read(&path).map(Some).map_err(|error| io(format!("reading {}", path.display()), &error))
    }

    /// Keeps a file under its hash; true if it was not kept before. It has reached the disk when
    /// this returns.
    ///
    /// # Errors
    /// It cannot be written; nothing is left of it then.
    pub fn keep(&self, bytes: &[u8]) -> Result<bool, Failure> {
        let hash = sha256(bytes);
        if self.find(&hash).is_some() {
            return Ok(false);
        }
        self.write(&hash, bytes).map(|()| true).map_err(|error| io(format!("keeping the file {}", hex(&hash)), &error))
    }

    /// Copies all files into the folder of another log.
    ///
    /// # Errors
    /// They cannot be read or written.
    pub fn copy_to(&self, other: &Self) -> Result<(), Failure> {
        let Ok(entries) = fs::read_dir(&self.0) else { return Ok(()) };
        for entry in entries {
            let path = entry.map_err(|error| io(format!("reading {}", self.0.display()), &error))?.path();
            if path.extension().is_none() {
                other.keep(&fs::read(&path).map_err(|error| io(format!("reading {}", path.display()), &error))?)?;
            }
        }
        Ok(())
    }

    fn place(&self, hash: &Hash) -> PathBuf {
        self.0.join(hex(hash))
    }

    /// Beside first, then under its name: a crash leaves the whole file or none.
    fn write(&self, hash: &Hash, bytes: &[u8]) -> std::io::Result<()> {
        static COUNT: AtomicU64 = AtomicU64::new(0);
        fs::create_dir_all(&self.0)?;
        let beside = self.place(hash).with_extension(format!("{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed)));
        let written = File::create_new(&beside).and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_all()));
        let placed = written.and_then(|()| fs::rename(&beside, self.place(hash)));
        if placed.is_err() {
            let _ = fs::remove_file(&beside);
        }
        placed.and_then(|()| File::open(&self.0)?.sync_all())
    }
}
