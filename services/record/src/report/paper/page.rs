//! What the parts of the report are written with: blocks of words, tables and drawings that know
//! nothing of how they will look. A browser's page and a typeset file are made from the same blocks.

use selachron_statistics::plot::{Alternative, alternative};
use serde::Serialize;

/// A report that grows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// Its title, as a window or a file shows it.
    pub title: String,
    /// What it consists of, in reading order.
    pub blocks: Vec<Block>,
}

/// One piece of a report. All texts are plain: whoever sets them makes them safe.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Block {
    /// The head: whose, what, over which days.
    Head {
        /// A line above the title.
        over: String,
        /// The title.
        title: String,
        /// A line below it.
        under: String,
    },
    /// What nobody may overlook about the whole of it.
    Banner {
        /// The words.
        text: String,
    },
    /// What must be settled first, set apart before everything else.
    Alarm {
        /// Heading.
        heading: String,
        /// What it says.
        blocks: Vec<Block>,
    },
    /// The one sentence that says what the report is worth.
    Verdict {
        /// The sentence.
        text: String,
    },
    /// Here stand the contents, where the form has any; the parts follow.
    Contents,
    /// A part with a heading; it stands in the contents.
    Section {
        /// Lower-case name, used once.
        id: &'static str,
        /// Heading.
        heading: &'static str,
    },
    /// A lesser heading.
    Heading {
        /// The words.
        text: String,
    },
    /// A paragraph.
    Para {
        /// The words.
        text: String,
    },
    /// A paragraph that begins with a few strong words.
    Told {
        /// The strong words.
        lead: String,
        /// The rest.
        text: String,
    },
    /// A paragraph in small letters.
    Note {
        /// The words.
        text: String,
    },
    /// A command to type.
    Command {
        /// The command, as typed.
        text: String,
    },
    /// Things one under the other.
    List {
        /// The things.
        items: Vec<String>,
    },
    /// Names and what they stand for.
    Terms {
        /// Each name with its value.
        terms: Vec<Term>,
    },
    /// Large figures, each with the words that belong to it.
    Figures {
        /// Each figure with its words.
        items: Vec<Figure>,
    },
    /// A drawing and the sentence beneath it.
    Drawing(Drawing),
    /// A table.
    Table(Table),
}

/// A large figure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Figure {
    /// The figure.
    pub figure: String,
    /// The words that belong to it.
    pub says: String,
    /// The address at which its notes are told.
    pub link: String,
}

/// A name and what it stands for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Term {
    /// The name.
    pub name: String,
    /// What it stands for.
    pub value: String,
    /// The value is to be compared letter by letter.
    pub code: bool,
    /// The value is a row of notes.
    pub notes: bool,
}

/// A drawing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Drawing {
    /// SVG text.
    pub svg: String,
    /// Its name.
    pub title: String,
    /// Its finding in words, for whoever cannot see it.
    pub finding: String,
    /// The sentence beneath it.
    pub caption: String,
}

/// A table: its rows' first cells are headings.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Table {
    /// What it is about, in a few words.
    pub title: String,
    /// The rest of the caption: units, denominators. May be empty.
    pub explains: String,
    /// Column headings; those after `words` columns are numbers and stand to the right.
    pub columns: Vec<String>,
    /// How many columns, from the first on, hold words.
    pub words: usize,
    /// The rows, each as long as `columns`.
    pub rows: Vec<Vec<String>>,
    /// The last row is the total.
    pub total: bool,
    /// Footnotes.
    pub footnotes: Vec<String>,
    /// For each cell the address at which its notes are told, or an empty one; no rows where no cell has any.
    pub links: Vec<Vec<String>>,
    /// For each row the notes behind it; no rows where none are named.
    pub notes: Vec<Vec<String>>,
    /// For each row the address at which all its notes are told; none where they have no such address.
    pub all_notes: Vec<String>,
}

/// Where the notes behind a table are told.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sources {
    /// See [`Table::links`].
    pub links: Vec<Vec<String>>,
    /// See [`Table::notes`].
    pub notes: Vec<Vec<String>>,
    /// See [`Table::all_notes`].
    pub all_notes: Vec<String>,
}

impl Sources {
    /// Addresses for cells, and no notes beside them.
    #[must_use]
    pub fn of_cells(links: Vec<Vec<String>>) -> Self {
        Self { links, ..Self::default() }
    }
}

/// A table as the parts write it down; [`Page::table`] keeps a copy.
pub struct Rows<'a> {
    /// See [`Table::title`].
    pub title: &'a str,
    /// See [`Table::explains`].
    pub explains: &'a str,
    /// See [`Table::columns`].
    pub columns: &'a [&'a str],
    /// See [`Table::words`].
    pub words: usize,
    /// See [`Table::rows`].
    pub rows: &'a [Vec<String>],
    /// See [`Table::total`].
    pub total: bool,
    /// See [`Table::footnotes`].
    pub footnotes: &'a [String],
}

impl Page {
    /// An empty page of that title.
    #[must_use]
    pub fn new(title: &str) -> Self {
        Self { title: title.to_owned(), blocks: Vec::new() }
    }

    /// A block of any kind.
    pub fn push(&mut self, block: Block) {
        self.blocks.push(block);
    }

    /// A part with a heading; it stands in the contents.
    pub fn section(&mut self, id: &'static str, heading: &'static str) {
        self.push(Block::Section { id, heading });
    }

    /// A lesser heading.
    pub fn heading(&mut self, text: &str) {
        self.push(Block::Heading { text: text.to_owned() });
    }

    /// A paragraph.
    pub fn para(&mut self, text: &str) {
        self.push(Block::Para { text: text.to_owned() });
    }

    /// A paragraph in small letters.
    pub fn note(&mut self, text: &str) {
        self.push(Block::Note { text: text.to_owned() });
    }

    /// A command to type.
    pub fn command(&mut self, text: &str) {
        self.push(Block::Command { text: text.to_owned() });
    }

    /// Things one under the other.
    pub fn list<'a>(&mut self, items: impl IntoIterator<Item = &'a str>) {
        self.push(Block::List { items: items.into_iter().map(str::to_owned).collect() });
    }

    /// Names and what they stand for; values in `code` are to be compared letter by letter.
    pub fn terms(&mut self, terms: &[(&str, String)], code: &[&str]) {
        let term = |(name, value): &(&str, String)| {
            let (name, code) = ((*name).to_owned(), code.contains(name));
            Term { name, value: value.clone(), code, notes: false }
        };
        self.push(Block::Terms { terms: terms.iter().map(term).collect() });
    }

    /// What notes are about, and the notes.
    pub fn notes_of(&mut self, about: &[(&str, String)], notes: &[String]) {
        let term = |(name, value): &(&str, String)| Term { name: (*name).to_owned(), value: value.clone(), code: true, notes: false };
        let mut terms: Vec<Term> = about.iter().map(term).collect();
        terms.push(Term { name: "Notes".to_owned(), value: notes.join(" "), code: true, notes: true });
        self.push(Block::Terms { terms });
    }

    /// A drawing and the sentence beneath it.
    pub fn figure(&mut self, svg: &str, caption: &str) {
        let Alternative { title, finding } = alternative(svg);
        self.push(Block::Drawing(Drawing { svg: svg.to_owned(), title, finding, caption: caption.to_owned() }));
    }

    /// A table. One without rows is not written.
    pub fn table(&mut self, table: &Rows) {
        self.sourced(table, Sources::default());
    }

    /// The same, of which it is said where its notes are told.
    pub fn sourced(&mut self, table: &Rows, sources: Sources) {
        if table.rows.is_empty() {
            return;
        }
        self.push(Block::Table(Table {
            title: table.title.to_owned(),
            explains: table.explains.to_owned(),
            columns: table.columns.iter().map(|&column| column.to_owned()).collect(),
            words: table.words,
            rows: table.rows.to_vec(),
            total: table.total,
            footnotes: table.footnotes.to_vec(),
            links: sources.links,
            notes: sources.notes,
            all_notes: sources.all_notes,
        }));
    }
}

/// `1 case`, `2 cases`.
#[must_use]
pub fn counted(count: u64, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}
