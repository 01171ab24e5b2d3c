//! What the service gives for other people's tools, taken to a file or a folder. It appears whole or not
//! at all: beside first, then under its name.

use super::args::ReadArgs;
use super::choices::ExportWhat;
use super::progress::{Of, Progress};
use super::read::clocks;
use super::session::Session;
use crate::bundle::unpack;
use crate::fault::Fault;
use crate::files::{self, Partial};
use selachron_schemas::note::plain_number;
use serde_json::json;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// What to take, in which form, and of which year.
pub struct Wanted<'a> {
    /// What.
    pub what: ExportWhat,
    /// The form; else that which suits the name of the file.
    pub format: Option<&'a str>,
    /// Of a list of a year.
    pub year: Option<i32>,
    /// Of a studbook: only what changed since the log had so many notes.
    pub since: Option<u64>,
    /// Of a Darwin Core archive: for whom it is.
    pub target: Option<&'a str>,
    /// Of a Darwin Core archive: say the country.
    pub with_country: bool,
}

/// Takes an export. A tar goes into a folder, unless the name ends in `.tar`.
///
/// # Errors
/// The form is not offered; something is there already; it broke off, and nothing is left of it.
pub fn export(session: &Session, wanted: &Wanted<'_>, out: &Path, read: &ReadArgs) -> Result<u8, Fault> {
    if out.symlink_metadata().is_ok() {
        return Err(Fault::Usage(format!("{} is there already; name a file or folder that is not", out.display())));
    }
    let format = wanted.format.unwrap_or_else(|| form_for(wanted.what, out, wanted.since.is_some()));
    let mut query = clocks(session, read)?;
    query.push(("format", format.to_owned()));
    query.extend(wanted.year.map(|year| ("year", year.to_string())));
    query.extend(wanted.since.map(|since| ("since", since.to_string())));
    query.extend(wanted.target.map(|target| ("target", target.to_owned())));
    query.extend(wanted.with_country.then(|| ("with", "country".to_owned())));
    let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
    // Drawn before anything is asked: the service may have much to learn first.
    let progress = Progress::waiting();
    let stream = session.client()?.get_stream_of(&format!("/v1/exports/{}", wanted.what.path()), &query, "*/*")?;
    let notes = (format == "ndjson").then(|| stream.header("selachron-known-at").and_then(plain_number)).flatten();
    let total = stream.length().map(Of::Bytes).or(notes.map(Of::Notes));
    let bytes = placed(progress.of(total).reading(stream), out, format == "tar" && !ends_in_tar(out))?;
    session.console.result(&json!({"written": out, "format": format, "bytes": bytes}), || format!("{bytes} bytes, in {}", out.display()));
    Ok(0)
}

/// Takes it beside, then gives it its name; where that fails nothing is left of it.
fn placed(stream: impl Read, out: &Path, into_folder: bool) -> Result<u64, Fault> {
    if into_folder {
        let partial = Partial::folder(out)?;
        let (_, bytes) = unpack(stream, partial.path())?;
        partial.place(out)?;
        return Ok(bytes);
    }
    let (partial, file) = Partial::file(out)?;
    let bytes = take(stream, file, partial.path())?;
    partial.place(out)?;
    Ok(bytes)
}

fn ends_in_tar(out: &Path) -> bool {
    out.extension().is_some_and(|ending| ending == "tar")
}

fn form_for(what: ExportWhat, out: &Path, changes: bool) -> &'static str {
    let ending = out.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    match (what, ending) {
        (ExportWhat::Events, _) => "ndjson",
        (ExportWhat::Tables, _) => "tar",
        (ExportWhat::DarwinCore, _) => "zip",
        (ExportWhat::Studbook, "json") if changes => "json",
        (ExportWhat::Studbook, _) if changes => "csv",
        (ExportWhat::StockList | ExportWhat::EggLedger | ExportWhat::Trade, "json") => "json",
        (ExportWhat::StockList | ExportWhat::EggLedger | ExportWhat::Trade, _) => "csv",
        (ExportWhat::Studbook, "csv") => "csv",
        (ExportWhat::Pedigree, "fam") => "fam",
        (ExportWhat::Pedigree, "pre") => "linkage",
        (ExportWhat::Pedigree, "json") => "json",
        (ExportWhat::Studbook | ExportWhat::Pedigree, _) => "tar",
    }
}

fn take(mut stream: impl Read, mut file: File, partial: &Path) -> Result<u64, Fault> {
    let broke = |error: std::io::Error| Fault::Failed(format!("the export broke off, and nothing is left of it: {error}"));
    let bytes = std::io::copy(&mut stream, &mut file).map_err(broke)?;
    file.sync_all().map_err(|error| files::fault("write", partial, &error))?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    struct BreaksOff(usize);

    impl Read for BreaksOff {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            if self.0 == 0 {
                return Err(std::io::ErrorKind::ConnectionReset.into());
            }
            self.0 -= 1;
            into[0] = b'x';
            Ok(1)
        }
    }

    /// A download that breaks off in the middle of a file, or of a folder whose first file had come whole,
    /// leaves nothing.
    #[test]
    fn what_breaks_off_leaves_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let left = || std::fs::read_dir(folder.path()).expect("a folder").count();
        let out = folder.path().join("events.ndjson");
        assert!(placed(BreaksOff(3), &out, false).is_err_and(|fault| fault.to_string().contains("broke off")));
        assert_eq!(left(), 0);
        let mut tar = tar::Builder::new(Vec::new());
        let mut header = tar::Header::new_ustar();
        header.set_size(2);
        tar.append_data(&mut header, "eggs.csv", "a\n".as_bytes()).expect("a tar");
        // A file that is whole, and no end of the archive.
        let begun = tar.get_ref().clone();
        let half = std::io::Read::chain(&begun[..], BreaksOff(3));
        assert!(placed(half, &folder.path().join("tables"), true).is_err());
        assert_eq!(left(), 0, "nor a folder");
        assert_eq!(placed(&b"whole"[..], &out, false).expect("a file"), 5);
        assert_eq!(left(), 1);
    }

    #[test]
    fn the_form_suits_the_name() {
        assert_eq!(form_for(ExportWhat::Studbook, Path::new("a.csv"), false), "csv");
        assert_eq!(form_for(ExportWhat::Studbook, Path::new("a"), false), "tar");
        assert_eq!(form_for(ExportWhat::Studbook, Path::new("a"), true), "csv", "changes are no folder");
        assert!(ends_in_tar(Path::new("a.tar")) && !ends_in_tar(Path::new("tar")));
    }
}
