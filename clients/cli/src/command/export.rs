//! What the service gives for other people's tools, taken to a file or a folder. It appears whole or not
//! at all: beside first, then under its name.

use super::args::ReadArgs;
use super::choices::ExportWhat;
use super::progress::{Of, Progress};
use super::read::{Query, clocks, each_page};
use super::session::Session;
use crate::bundle::unpack;
use crate::fault::Fault;
use crate::files::{self, Partial};
use selachron_schemas::limits::LIST_ITEMS_MAX;
use selachron_schemas::note::plain_number;
use serde_json::{Map, Value, json};
use std::fs::File;
use std::io::{BufWriter, Read, Write};
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
    // Drawn before anything is asked: the service may have much to learn first.
    let progress = Progress::waiting();
    let bytes = if format == "json" && is_paged(wanted.what) {
        let _shown = progress;
        listed(session, &path_of(wanted.what), query, out)?
    } else {
        streamed(session, &path_of(wanted.what), &query, (format, out), progress)?
    };
    session.console.result(&json!({"written": out, "format": format, "bytes": bytes}), || format!("{bytes} bytes, in {}", out.display()));
    Ok(0)
}

fn path_of(what: ExportWhat) -> String {
    format!("/v1/exports/{}", what.path())
}

/// Whether its JSON comes a page at a time.
fn is_paged(what: ExportWhat) -> bool {
    matches!(what, ExportWhat::Studbook | ExportWhat::Trade)
}

fn borrowed(query: &Query) -> Vec<(&str, &str)> {
    query.iter().map(|(name, value)| (*name, value.as_str())).collect()
}

/// What the service sends while it makes it, as it comes.
fn streamed(session: &Session, path: &str, query: &Query, (format, out): (&str, &Path), progress: Progress) -> Result<u64, Fault> {
    let stream = session.client()?.get_stream_of(path, &borrowed(query), "*/*")?;
    let notes = (format == "ndjson").then(|| stream.header("selachron-known-at").and_then(plain_number)).flatten();
    let total = stream.length().map(Of::Bytes).or(notes.map(Of::Notes));
    placed(progress.of(total).reading(stream), out, format == "tar" && !ends_in_tar(out))
}

/// All pages of a list, as one document.
fn listed(session: &Session, path: &str, mut query: Query, out: &Path) -> Result<u64, Fault> {
    query.push(("limit", LIST_ITEMS_MAX.to_string()));
    let client = session.client()?;
    placed_document(out, path, &query, |query| client.get_patiently(path, &borrowed(query)))
}

fn placed_document(out: &Path, path: &str, query: &Query, ask: impl Fn(&Query) -> Result<Value, Fault>) -> Result<u64, Fault> {
    let (partial, file) = Partial::file(out)?;
    let failed = |error: std::io::Error| files::fault("write", partial.path(), &error);
    let mut file = BufWriter::new(file);
    let mut between = None;
    each_page(path, query, ask, |page, items| {
        if between.is_none() {
            begin(&mut file, page).map_err(failed)?;
        }
        for item in items {
            write!(file, "{}{item}", between.unwrap_or_default()).map_err(failed)?;
            between = Some(",");
        }
        between = between.or(Some(""));
        Ok(true)
    })?;
    file.write_all(b"]}").and_then(|()| file.flush()).and_then(|()| file.get_ref().sync_all()).map_err(failed)?;
    let bytes = file.get_ref().metadata().map_err(failed)?.len();
    partial.place(out)?;
    Ok(bytes)
}

/// What the first page says beside its items, which come last: the document is what one page would be that
/// holds them all.
fn begin(out: &mut impl Write, page: Value) -> std::io::Result<()> {
    let mut says = match page {
        Value::Object(says) => says,
        _ => Map::new(),
    };
    says.shift_remove("items");
    write!(out, "{{")?;
    for (name, value) in says {
        write!(out, "{}:{value},", Value::from(name))?;
    }
    write!(out, "\"items\":[")
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
        (ExportWhat::StockList | ExportWhat::EggLedger | ExportWhat::Trade | ExportWhat::Studbook, "json") => "json",
        (ExportWhat::Studbook, _) if changes => "csv",
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
        // An end of the archive behind which the stream breaks off.
        let ended = tar.into_inner().expect("a whole tar");
        for more in [0, 3] {
            let broken = std::io::Read::chain(&ended[..], BreaksOff(more));
            assert!(placed(broken, &folder.path().join("tables"), true).is_err_and(|fault| fault.to_string().contains("broke off")));
            assert_eq!(left(), 0, "nor is a tar whole because it says so");
        }
        assert_eq!(placed(&b"whole"[..], &out, false).expect("a file"), 5);
        assert_eq!(left(), 1);
    }

    fn pages(query: &Query) -> Result<Value, Fault> {
        let cursor = query.iter().find(|(name, _)| *name == "cursor").map(|(_, cursor)| cursor.as_str());
        assert_eq!(query[0], ("known_at", "7".to_owned()), "every page is asked as the first was");
        Ok(match cursor {
            None => json!({"as_of": "of the first", "known_at": 7, "items": [{"a": 0.1}, {"a": null}], "next": "two"}),
            Some("two") => json!({"as_of": "of another", "known_at": 7, "items": [], "next": "three"}),
            Some(_) => json!({"as_of": "of another", "known_at": 7, "items": [{"b": "é"}]}),
        })
    }

    /// The document is what one page would be that holds all items; without the last page there is none.
    #[test]
    fn pages_come_as_one_document_or_not_at_all() {
        let folder = tempfile::tempdir().expect("a folder");
        let (out, query) = (folder.path().join("list.json"), vec![("known_at", "7".to_owned())]);
        let breaks = |query: &Query| match pages(query) {
            Ok(page) if page.get("next").is_none() => Err(Fault::Unreachable("nobody answers".to_owned())),
            answered => answered,
        };
        assert!(matches!(placed_document(&out, "/list", &query, breaks), Err(Fault::Unreachable(_))));
        assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 0, "nothing is left");
        let bytes = placed_document(&out, "/list", &query, pages).expect("all pages come");
        let document = std::fs::read_to_string(&out).expect("a file");
        let items = json!([{"a": 0.1}, {"a": null}, {"b": "é"}]);
        assert_eq!(document, json!({"as_of": "of the first", "known_at": 7, "items": items}).to_string());
        assert_eq!(bytes, document.len() as u64);
        let none = folder.path().join("none.json");
        placed_document(&none, "/list", &query, |_| Ok(json!({"as_of": "then", "items": []}))).expect("an empty list is one too");
        assert_eq!(std::fs::read_to_string(none).expect("a file"), r#"{"as_of":"then","items":[]}"#);
    }

    #[test]
    fn the_form_suits_the_name() {
        assert_eq!(form_for(ExportWhat::Studbook, Path::new("a.json"), false), "json", "a name that ends so is no folder's");
        assert_eq!(form_for(ExportWhat::Studbook, Path::new("a.json"), true), "json");
        assert_eq!(form_for(ExportWhat::Studbook, Path::new("a.csv"), false), "csv");
        assert_eq!(form_for(ExportWhat::Studbook, Path::new("a"), false), "tar");
        assert_eq!(form_for(ExportWhat::Studbook, Path::new("a"), true), "csv", "changes are no folder");
        assert!(ends_in_tar(Path::new("a.tar")) && !ends_in_tar(Path::new("tar")));
    }
}
