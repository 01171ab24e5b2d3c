//! A log put back from a bundle, byte for byte, into an empty folder. What it gives is sealed: a bundle
//! may be older than what clients hold, and only [`super::unseal`] decides that (F24).

use super::unseal::{missing, read, refused, withheld_facts};
use super::{Status, state};
use crate::evidence::Evidence;
use crate::failure::{Failure, Setup, io};
use crate::init::STORE_FILE;
use crate::journal::outside::{Folder as OutsideFolder, Outside as _};
use crate::store::sqlite::Sqlite;
use crate::store::{EventStore, Head, StagedEvent};
use selachron_schemas::audit::folder::{Content, Folder, only_hashed};
use selachron_schemas::audit::spread::OneByOne;
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::audit::{Scope, audit};
use selachron_schemas::merkle::sha256;
use selachron_schemas::note::SignedCheckpoint;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

/// Puts the log of a bundle into `folder`, which must not be there or be empty. The bundle is audited
/// first; the folder appears whole or not at all. The log key is in no bundle: put it beside, and unseal.
///
/// # Errors
/// `Refused` if the bundle does not verify, `Exists` if the folder is not empty; nothing is left then.
pub fn restore(bundle: &Path, folder: &Path) -> Result<Status, Failure> {
    check_empty(folder)?;
    let checked = audit(&files(bundle)?, &Trust::default(), Scope::Whole, &OneByOne);
    if let Some(fault) = checked.faults.first() {
        return Err(refused(format!("the bundle does not verify, so nothing was put back: {fault}")));
    }
    let beside = Beside::made(folder)?;
    let head = fill(bundle, &beside.path)?;
    // Until here nobody can take it for a log; from here on it is whole.
    fs::rename(&beside.path, folder).map_err(|error| io(format!("making {}", folder.display()), &error))?;
    state(folder, Some(head), false)
}

const RESTORING: &str = ".restoring-";

/// The folder that is being filled. It is locked meanwhile, so that a later run can tell it from what a killed
/// one left; if it still has this name when this is dropped, it is removed.
struct Beside {
    path: PathBuf,
    /// `None` where the system locks no folders.
    _held: Option<File>,
}

impl Beside {
    fn made(folder: &Path) -> Result<Self, Failure> {
        let mut name = folder.file_name().ok_or_else(|| refused("name the folder to make"))?.to_owned();
        name.push(RESTORING);
        sweep(folder, &name.to_string_lossy());
        name.push(std::process::id().to_string());
        let path = folder.with_file_name(name);
        fs::create_dir(&path).map_err(|error| io(format!("making {}", path.display()), &error))?;
        let held = File::open(&path).ok().filter(|folder| folder.try_lock().is_ok());
        Ok(Self { path, _held: held })
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.path);
    }
}

/// Removes what runs that were killed left beside `folder`, or one whose process has the same number again, as
/// the first of every container has, could never begin. What another one is filling is locked, and stays.
fn sweep(folder: &Path, begins: &str) {
    let above = folder.parent().filter(|above| !above.as_os_str().is_empty()).unwrap_or(Path::new("."));
    for entry in fs::read_dir(above).into_iter().flatten().flatten() {
        let of_a_run = |pid: &str| !pid.is_empty() && pid.bytes().all(|byte| byte.is_ascii_digit());
        let ours = entry.file_name().to_string_lossy().strip_prefix(begins).is_some_and(of_a_run);
        let plain = entry.file_type().is_ok_and(|kind| kind.is_dir());
        if ours && plain && File::open(entry.path()).is_ok_and(|left| left.try_lock().is_ok()) {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

fn check_empty(folder: &Path) -> Result<(), Failure> {
    match fs::read_dir(folder).map(|mut entries| entries.next().is_none()) {
        Ok(true) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Ok(false) => Err(Setup::Exists(format!("{} is not empty; a log is only put back into an empty folder", folder.display())).into()),
        Err(error) => Err(io(format!("reading {}", folder.display()), &error)),
    }
}

/// The bundle's files, as the audit wants them.
pub(super) fn files(bundle: &Path) -> Result<Folder, Failure> {
    let mut folder = Folder::default();
    read_into(&mut folder, bundle, "")?;
    Ok(folder)
}

fn read_into(folder: &mut Folder, path: &Path, before: &str) -> Result<(), Failure> {
    let failed = |error: std::io::Error| io(format!("reading {}", path.display()), &error);
    for entry in fs::read_dir(path).map_err(failed)? {
        let entry = entry.map_err(failed)?;
        let (kind, name) = (entry.file_type().map_err(failed)?, format!("{before}{}", entry.file_name().to_string_lossy()));
        if kind.is_dir() {
            read_into(folder, &entry.path(), &format!("{name}/"))?;
        } else if kind.is_file() {
            let bytes = fs::read(entry.path()).map_err(failed)?;
            let content = if only_hashed(&name) { Content::Hashed(sha256(&bytes)) } else { Content::Text(bytes) };
            folder.files.insert(name, content);
        } else {
            folder.strange.push(name);
        }
    }
    Ok(())
}

fn fill(bundle: &Path, into: &Path) -> Result<Head, Failure> {
    let outside = OutsideFolder::new(into);
    // The seal first, as in a copy.
    outside.seal("this was put back from a bundle; whoever opens it must show that nothing was recorded after it")?;
    let heads = heads(bundle)?;
    let head = heads.last().cloned().ok_or_else(|| refused("the bundle holds no checkpoint"))?;
    let (leaves, envelopes) = (read(&bundle.join("leaves"))?, read(&bundle.join("envelopes.ndjson"))?);
    let rows: Vec<(&str, &str)> = leaves.split_terminator("\n\n").zip(envelopes.lines()).collect();
    let facts = withheld_facts(&rows);
    let events = rows.iter().map(|(leaf, envelope)| missing(leaf, envelope, &facts)).collect::<Result<Vec<_>, _>>()?;
    let store = Sqlite::create(&into.join(STORE_FILE))?;
    publish_all(&store, &events, &heads)?;
    drop(store);
    outside.set_mark(&head.note)?;
    for kept in ["attachments", "reports"] {
        keep(&bundle.join(kept), &Evidence::of(into))?;
    }
    File::open(into).and_then(|folder| folder.sync_all()).map_err(|error| io("writing the folder", &error))?;
    Ok(head)
}

/// The checkpoints of a bundle in the order in which they were signed, the one that it reaches last. The
/// audit has found each to be over the bundle's own leaves.
fn heads(bundle: &Path) -> Result<Vec<Head>, Failure> {
    let mut notes = vec![read(&bundle.join("checkpoint"))?];
    // A log that was published once has no older ones.
    for entry in fs::read_dir(bundle.join("checkpoints")).into_iter().flatten() {
        notes.push(read(&entry.map_err(|error| io("reading the older checkpoints", &error))?.path())?);
    }
    let head = |note: String| {
        let checkpoint = SignedCheckpoint::parse(&note).map_err(refused)?.checkpoint;
        Ok(Head { size: checkpoint.size, root: checkpoint.root, note })
    };
    let mut heads = notes.into_iter().map(head).collect::<Result<Vec<Head>, Failure>>()?;
    heads.sort_by_key(|head| head.size);
    Ok(heads)
}

/// Puts the notes back in the groups that the checkpoints end, and publishes each: the next bundle carries
/// the same older checkpoints, the last of a former log key among them.
fn publish_all(store: &dyn EventStore, events: &[StagedEvent], heads: &[Head]) -> Result<(), Failure> {
    let (mut before, mut left) = (0, events);
    for head in heads {
        let (group, later) = left.split_at(left.partition_point(|event| event.leaf.seq < head.size));
        store.stage(group, &head.root)?;
        store.publish(before, head)?;
        (before, left) = (head.size, later);
    }
    Ok(())
}

fn keep(folder: &Path, evidence: &Evidence) -> Result<(), Failure> {
    let Ok(entries) = fs::read_dir(folder) else { return Ok(()) };
    for entry in entries {
        let path = entry.map_err(|error| io(format!("reading {}", folder.display()), &error))?.path();
        evidence.keep(&fs::read(&path).map_err(|error| io(format!("reading {}", path.display()), &error))?)?;
    }
    Ok(())
}
