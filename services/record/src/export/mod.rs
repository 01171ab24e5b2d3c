//! What others take away.
//!
//! A bundle is the log as a folder of text that an auditor checks off line (F25); it is made at one
//! published size, from the store, page by page, here. The others are what the notes say at (V, S), in
//! forms that other people's tools read:
//! * [`cell`], [`shape`], [`describe`], [`folder`], [`sorted`]: tables as CSV, and descriptors beside them;
//! * [`transfers`] and [`tables`]: the record as plain tables;
//! * [`studbook`]: one row an animal, with the notes behind each cell;
//! * [`changes`]: what changed in it between two sizes of the log;
//! * [`yearly`]: the same as a table of the annual report;
//! * [`darwin_core`]: an archive of the animals;
//! * [`pedigree`]: the pedigree in forms of other programs, with what they cannot say;
//! * [`lists`]: the stock list and the egg ledger;
//! * [`trade`]: lines of a trade report;
//! * [`place`]: a folder, or a tar that is sent while it is made; [`stream`]: what is written, as it is written.

pub mod place;

pub mod stream;

pub mod cell;

pub mod shape;

pub mod describe;

pub mod sorted;

pub mod folder;

pub mod transfers;

pub mod tables;

pub mod studbook;

pub mod changes;

pub mod yearly;

pub mod darwin_core;

pub mod pedigree;

pub mod lists;

pub mod trade;

use crate::domain::view::View;
use crate::evidence::Evidence;
use crate::failure::{Broken, Failure, io};
use crate::journal::JournalHandle;
use crate::projections::Projections;
use crate::store::{EventStore, Head, StoredEvent};
use place::{Folder, Place, Writing};
use selachron_schemas::bundle::evidence_in;
use selachron_schemas::catalogue;
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::envelope::Envelope;
use selachron_schemas::event::Event;
use selachron_schemas::limits::{BUNDLE_CHECKPOINTS_MAX, EXPORT_PAGE_ROWS, EXPORT_PAGE_THINGS, PAGE_EVENTS_MAX};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// The record, to be asked at two clocks as often as need be.
#[derive(Clone, Copy)]
pub struct Asking<'a> {
    /// What the notes say.
    pub projections: &'a Projections,
    /// V.
    pub as_of: Instant,
    /// S.
    pub known_at: u64,
    /// A folder for what is too large for memory and has to be put in order first.
    pub scratch: &'a Path,
}

impl Asking<'_> {
    /// Asks once.
    ///
    /// # Errors
    /// So many notes are not known in this moment: what was learned can be lost between two questions.
    pub fn view<T>(&self, question: impl FnOnce(&View<'_>) -> T) -> Result<T, Failure> {
        self.projections.at_known(self.as_of, self.known_at, question)
    }

    /// Gives the rows of each thing to `take`, a page at a time: the record is asked anew for each page, so that
    /// nobody who writes waits for more than a page, and no more rows are held than a page has.
    ///
    /// # Errors
    /// What `take` returns; what was known is known no more.
    pub fn rows_of_each<R>(
        &self,
        things: &[Subject],
        rows: impl Fn(&View<'_>, &Subject) -> Vec<R>,
        mut take: impl FnMut(&R) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        let mut left = things;
        while !left.is_empty() {
            let page = |view: &View<'_>| {
                let (mut found, mut done) = (Vec::new(), 0);
                while done < left.len().min(EXPORT_PAGE_THINGS) && found.len() < EXPORT_PAGE_ROWS {
                    found.extend(rows(view, &left[done]));
                    done += 1;
                }
                (found, done)
            };
            let (found, done) = self.view(page)?;
            found.iter().try_for_each(&mut take)?;
            left = &left[done..];
        }
        Ok(())
    }

    /// The same of each note, in the order of the log.
    ///
    /// # Errors
    /// As [`Self::rows_of_each`].
    pub fn rows_of_each_note<R>(
        &self,
        rows: impl Fn(&View<'_>, u64) -> Vec<R>,
        mut take: impl FnMut(&R) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        for from in (0..self.known_at).step_by(PAGE_EVENTS_MAX) {
            let until = (from + PAGE_EVENTS_MAX as u64).min(self.known_at);
            let found: Vec<R> = self.view(|view| (from..until).flat_map(|seq| rows(view, seq)).collect())?;
            found.iter().try_for_each(&mut take)?;
        }
        Ok(())
    }
}

/// What a bundle is made of.
pub struct Source<'a> {
    /// The log's store.
    pub store: &'a dyn EventStore,
    /// The checkpoint that the bundle reaches.
    pub head: Head,
    /// The newest log key, as a verifier key.
    pub log_vkey: String,
    /// For each former log key the largest checkpoint that bears its line.
    pub former_keys: Vec<u64>,
    /// Files that notes name.
    pub evidence: &'a Evidence,
}

impl<'a> Source<'a> {
    /// The published log, as it is now.
    ///
    /// # Errors
    /// Nothing has been published.
    pub fn of(journal: &'a JournalHandle, evidence: &'a Evidence) -> Result<Self, Failure> {
        let published = journal.published();
        let (head, key) = (published.head().cloned(), published.log_keys().newest().map(ToString::to_string));
        let nothing = || Broken::new("nothing has been published");
        let former_keys = published.log_keys().last_sizes();
        Ok(Self { store: &**journal.store(), head: head.ok_or_else(nothing)?, log_vkey: key.ok_or_else(nothing)?, former_keys, evidence })
    }
}

/// Writes a bundle into `folder`, which must not be there yet.
///
/// # Errors
/// The folder is there or cannot be written, or the store cannot be read.
pub fn write(folder: &Path, source: &Source<'_>) -> Result<(), Failure> {
    fs::create_dir(folder).map_err(|error| io(format!("making {}", folder.display()), &error))?;
    write_into(&mut Folder(folder), source)
}

/// Writes a bundle, what is small before what is long, and the sums last.
///
/// # Errors
/// Something cannot be written, or the store cannot be read.
pub fn write_into(place: &mut dyn Place, source: &Source<'_>) -> Result<(), Failure> {
    let mut files = Files { place, sums: BTreeMap::new() };
    files.put("log.vkey", format!("{}\n", source.log_vkey).as_bytes())?;
    files.put("checkpoint", source.head.note.as_bytes())?;
    for older in older_checkpoints(source)? {
        files.put(&format!("checkpoints/{}", older.size), older.note.as_bytes())?;
    }
    for (name, bytes) in catalogue::files() {
        files.put(&format!("schemas/{name}"), bytes)?;
    }
    write_notes(&mut files, source)?;
    let sums: String = files.sums.iter().map(|(name, sum)| format!("{sum}  {name}\n")).collect();
    files.put("SHA256SUMS", sums.as_bytes())
}

/// The newest ones, and the last that each former log key signed: whoever holds only that key ties the
/// bundle to it.
fn older_checkpoints(source: &Source<'_>) -> Result<Vec<Head>, Failure> {
    let mut heads = source.store.checkpoints(source.head.size, BUNDLE_CHECKPOINTS_MAX)?;
    for size in &source.former_keys {
        let last = source.store.checkpoints(source.head.size.min(size.saturating_add(1)), 1)?;
        heads.extend(last.into_iter().filter(|head| !heads.iter().any(|known| known.size == head.size)).collect::<Vec<_>>());
    }
    Ok(heads)
}

/// Leaves and envelopes are read in two turns, so that only one of the two lies beside a tar at a time.
fn write_notes(files: &mut Files<'_>, source: &Source<'_>) -> Result<(), Failure> {
    let written = |out: &mut dyn Write, line: &str| out.write_all(line.as_bytes()).map_err(|error| io("writing a bundle", &error));
    files.written("leaves", &mut |out| each_note(source, |row| written(out, &format!("{}\n", row.leaf.text()))))?;
    let mut named = BTreeSet::new();
    files.written("envelopes.ndjson", &mut |out| {
        each_note(source, |row| {
            let event = row.body.as_deref().and_then(|body| Event::parse(body).ok());
            named.extend(event.map(|event| evidence_in(&event.kind, &event.data)).into_iter().flatten());
            written(out, &line(row))
        })
    })?;
    for (place, hash) in named {
        if let Some(bytes) = source.evidence.read(&hash)? {
            files.put(&place.path(&hash), &bytes)?;
        }
    }
    Ok(())
}

fn each_note(source: &Source<'_>, mut take: impl FnMut(&StoredEvent) -> Result<(), Failure>) -> Result<(), Failure> {
    let mut seq = 0;
    while seq < source.head.size {
        let page = source.store.read_all(seq, PAGE_EVENTS_MAX)?;
        let row_at_seq = page.first().is_some_and(|row| row.leaf.seq == seq);
        for row in page.into_iter().take_while(|row| row.leaf.seq < source.head.size) {
            if row.leaf.seq != seq {
                return Err(Broken::at(seq, "published, but not in the store").into());
            }
            take(&row)?;
            seq += 1;
        }
        if !row_at_seq {
            return Err(Broken::at(seq, "published, but not in the store").into());
        }
    }
    Ok(())
}

/// The written form of F7, or what stands for a body that is withheld.
fn line(row: &StoredEvent) -> String {
    match &row.body {
        Some(body) => format!("{}\n", Envelope::written(body, &row.leaf.signatures)),
        None => format!("{{\"withheld\":\"{}\"}}\n", base64(&row.leaf.body_sha256)),
    }
}

/// Files with the sums of those written so far, sorted by name as bytes.
struct Files<'p> {
    place: &'p mut dyn Place,
    sums: BTreeMap<String, String>,
}

impl Files<'_> {
    fn put(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        self.sums.insert(name.to_owned(), hex(&Sha256::digest(bytes)));
        self.place.put(name, bytes)
    }

    fn written(&mut self, name: &str, write: Writing<'_>) -> Result<(), Failure> {
        let mut sum = String::new();
        self.place.written(name, &mut |out| {
            let mut hashed = Hashed { out, hash: Sha256::new() };
            write(&mut hashed)?;
            sum = hex(&hashed.hash.finalize());
            Ok(())
        })?;
        self.sums.insert(name.to_owned(), sum);
        Ok(())
    }
}

/// Hashes what goes through.
struct Hashed<'o> {
    out: &'o mut dyn Write,
    hash: Sha256,
}

impl Write for Hashed<'_> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let written = self.out.write(bytes)?;
        self.hash.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.out.flush()
    }
}

/// A folder that is gone when nobody needs it any more.
#[derive(Debug)]
pub struct Scratch(PathBuf);

impl Scratch {
    /// A folder under `scratch`, for `fill` to put something into.
    ///
    /// # Errors
    /// It cannot be made, or what `fill` returns; then nothing is left of it.
    pub fn filled(scratch: &Path, fill: impl FnOnce(&Path) -> Result<(), Failure>) -> Result<Self, Failure> {
        let folder = Self::named(scratch);
        fs::create_dir(&folder.0).map_err(|error| io(format!("making {}", folder.0.display()), &error))?;
        fill(&folder.0)?;
        Ok(folder)
    }

    fn named(scratch: &Path) -> Self {
        static COUNT: AtomicU64 = AtomicU64::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        Self(scratch.join(format!("{SCRATCH}{}-{number}", std::process::id())))
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0
    }

    /// Removes what a process that was killed has left.
    pub fn sweep(scratch: &Path) {
        let left = fs::read_dir(scratch).into_iter().flatten().flatten();
        for entry in left.filter(|entry| entry.file_name().to_string_lossy().starts_with(SCRATCH)) {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

const SCRATCH: &str = "export.";

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}
