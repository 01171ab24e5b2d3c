//! A Darwin Core archive of the animals (Darwin Core text guide, TDWG): one occurrence an animal, its
//! measures and its parents beside it, all of them said to be captive. Places, prices and people are
//! withheld, and the archive says so.
//!
//! * [`terms`]: the tables, their columns being Darwin Core terms, and the controlled values;
//! * [`rows`]: what stands in them;
//! * [`papers`]: `meta.xml` and `eml.xml`.

pub mod terms;

pub mod rows;

pub mod papers;

use super::Asking;
use super::describe::Provenance;
use super::folder::Csv;
use super::place::UntilStopped;
use super::shape::{Row, Shape};
use crate::domain::state::Animal;
use crate::domain::view::View;
use crate::failure::{Broken, Failure, io};
use rows::Naming;
use selachron_schemas::names::Subject;
use std::io::Write;
use terms::{MEASURES, OCCURRENCES, RELATIONS, Target};
use zip::write::{SimpleFileOptions, StreamWriter};
use zip::{CompressionMethod, DateTime, ZipWriter};

/// The name of the archive.
pub const ARCHIVE: &str = "darwin-core.zip";

/// Whom the archive is for, and what it may say beside what it always says.
#[derive(Debug, Clone)]
pub struct For {
    /// Whose words it uses.
    pub target: Target,
    /// The country (ISO 3166-1 alpha-2), where whoever asks wants it said.
    pub country: Option<String>,
}

/// Writes the archive to `out`, to be sent while it is made: sizes and sums follow each file. Two archives
/// of the same moment are the same bytes.
///
/// # Errors
/// It cannot be written.
pub fn write(out: &mut dyn Write, asking: &Asking<'_>, wanted: &For, from: &Provenance) -> Result<(), Failure> {
    let (out, stop) = UntilStopped::new(out);
    let mut zip = ZipWriter::new_stream(out);
    // Told after the zip, so that it goes before: a zip that breaks off must not end with a table of its files.
    let _stop = stop;
    let naming = Naming { origin: &from.origin, wanted };
    let mut put = |name: &str, bytes: &[u8]| -> Result<(), Failure> {
        zip.start_file(name, options()).map_err(|error| told(name, &error))?;
        zip.write_all(bytes).and_then(|()| zip.flush()).map_err(|error| told(name, &error))
    };
    put("meta.xml", &papers::meta(wanted.target)?)?;
    put("eml.xml", &papers::eml(wanted, from)?)?;
    table(&mut zip, &OCCURRENCES, asking, |view, animal| vec![naming.occurrence(view, animal)])?;
    table(&mut zip, &MEASURES, asking, |view, animal| naming.measures(view, animal))?;
    table(&mut zip, &RELATIONS, asking, |view, animal| naming.relations(view, animal))?;
    let mut sent = zip.finish().map_err(|error| told(ARCHIVE, &error))?;
    sent.flush().map_err(|error| told(ARCHIVE, &error))
}

fn told(name: &str, error: &dyn std::fmt::Display) -> Failure {
    io(format!("writing {name}"), &std::io::Error::other(error.to_string()))
}

/// Nothing in an entry's header depends on when or by whom.
fn options() -> SimpleFileOptions {
    SimpleFileOptions::default().compression_method(CompressionMethod::Deflated).last_modified_time(DateTime::default()).large_file(true)
}

/// One table of the archive: the record is asked anew for each page of animals, as tables are.
fn table(
    zip: &mut ZipWriter<StreamWriter<UntilStopped<'_>>>,
    shape: &Shape,
    asking: &Asking<'_>,
    rows: impl Fn(&View<'_>, &Animal) -> Vec<Row>,
) -> Result<(), Failure> {
    zip.start_file(shape.file(), options()).map_err(|error| Broken::new(format!("{}: {error}", shape.name)))?;
    let mut csv = Csv::new(&mut *zip, shape)?;
    let animals: Vec<Subject> = asking.view(|view| view.subjects("animal").cloned().collect())?;
    let rows = |view: &View<'_>, id: &Subject| view.animal(id).map(|animal| rows(view, &animal)).unwrap_or_default();
    asking.rows_of_each(&animals, rows, |row| csv.row(row))?;
    csv.finish().map(drop)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::projections::Projections;
    use selachron_schemas::time::Instant;
    use zip::ZipArchive;

    /// Two papers are written, then a table asks for notes that are not known: what was sent is no archive.
    #[test]
    fn half_an_archive_cannot_be_opened() {
        let (projections, as_of) = (Projections::new(), Instant::parse("2026-03-02T10:00:00Z").expect("a time"));
        let asking = Asking { projections: &projections, as_of, known_at: 7, scratch: std::path::Path::new("nowhere") };
        let from = Provenance { as_of, ..papers::tests::provenance() };
        let mut bytes = Vec::new();
        assert!(write(&mut bytes, &asking, &For { target: Target::Gbif, country: None }, &from).is_err());
        assert!(bytes.windows(7).any(|part| part == b"eml.xml"), "both papers were sent");
        assert!(ZipArchive::new(std::io::Cursor::new(&bytes)).is_err());
        let says = |mark: &[u8]| bytes.windows(mark.len()).any(|part| part == mark);
        // The signatures of a central directory and of its end (APPNOTE.TXT 4.3.12 and 4.3.16).
        assert!(!says(b"PK\x01\x02") && !says(b"PK\x05\x06"), "nor does it say where its files are");
    }
}
