//! All that the typesetter may see: our one page of layout, the report, and the letters.

use std::sync::OnceLock;
use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

/// How a report is laid out.
const LAYOUT: &str = include_str!("report.typ");

/// What one file is made from. Nothing is read from disk, and there is no today.
pub struct ReportWorld {
    library: LazyHash<Library>,
    layout: Source,
    files: Vec<(FileId, Bytes)>,
}

/// The letters and the list of them; they are the same for every file.
struct Letters {
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

fn letters() -> &'static Letters {
    static LETTERS: OnceLock<Letters> = OnceLock::new();
    LETTERS.get_or_init(|| {
        let fonts: Vec<Font> = typst_assets::fonts().flat_map(|data| Font::iter(Bytes::new(data))).collect();
        Letters { book: LazyHash::new(FontBook::from_fonts(&fonts)), fonts }
    })
}

/// Whether one of the faces has this letter.
#[must_use]
pub fn has_letter(letter: char) -> bool {
    letters().fonts.iter().any(|font| font.info().coverage.contains(u32::from(letter)))
}

/// The name of a file at the root of this world.
fn at_root(name: &str) -> FileId {
    let path = VirtualPath::new(name).unwrap_or_else(|_| unreachable!("our own names are paths"));
    RootedPath::new(VirtualRoot::Project, path).intern()
}

impl ReportWorld {
    /// A world of the layout and these files, each with its name.
    #[must_use]
    pub fn new(files: Vec<(&str, Vec<u8>)>) -> Self {
        Self {
            library: LazyHash::new(Library::default()),
            layout: Source::new(at_root("report.typ"), LAYOUT.to_owned()),
            files: files.into_iter().map(|(name, bytes)| (at_root(name), Bytes::new(bytes))).collect(),
        }
    }
}

impl World for ReportWorld {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &letters().book
    }

    fn main(&self) -> FileId {
        self.layout.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.layout.id() { Ok(self.layout.clone()) } else { Err(not_here(id)) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.iter().find(|(name, _)| *name == id).map(|(_, bytes)| bytes.clone()).ok_or_else(|| not_here(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        letters().fonts.get(index).cloned()
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn not_here(id: FileId) -> FileError {
    FileError::NotFound(id.get().vpath().get_with_slash().into())
}
