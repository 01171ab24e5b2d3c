//! What the parts of the page are written with. Every text from the report passes through
//! [`escape`]; the markup is well formed as XML too, so that any reader can take it apart.

use super::style::{GLYPH, STYLE};
use selachron_statistics::plot::escape;
use std::fmt::Write as _;

/// A page that grows.
pub struct Page {
    title: String,
    body: String,
    sections: Vec<(&'static str, &'static str)>,
}

/// A table: its rows' first cells are headings.
pub struct Table<'a> {
    /// What it is about, in a few words.
    pub title: &'a str,
    /// The rest of the caption: units, denominators. May be empty.
    pub explains: &'a str,
    /// Column headings; those after `words` columns are numbers and stand to the right.
    pub columns: &'a [&'a str],
    /// How many columns, from the first on, hold words.
    pub words: usize,
    /// The rows, each as long as `columns`.
    pub rows: &'a [Vec<String>],
    /// The last row is the total.
    pub total: bool,
    /// Footnotes.
    pub footnotes: &'a [String],
}

impl Page {
    /// An empty page of that title.
    #[must_use]
    pub fn new(title: &str) -> Self {
        Self { title: title.to_owned(), body: String::new(), sections: Vec::new() }
    }

    /// Markup that is already safe.
    pub fn raw(&mut self, markup: &str) {
        self.body.push_str(markup);
    }

    /// A part with a heading; it stands in the contents.
    pub fn section(&mut self, id: &'static str, heading: &'static str) {
        self.sections.push((id, heading));
        let _ = writeln!(self.body, "<h2 id=\"{id}\">{}</h2>", escape(heading));
    }

    /// A lesser heading.
    pub fn heading(&mut self, text: &str) {
        let _ = writeln!(self.body, "<h3>{}</h3>", escape(text));
    }

    /// A paragraph.
    pub fn para(&mut self, text: &str) {
        let _ = writeln!(self.body, "<p>{}</p>", escape(text));
    }

    /// A paragraph in small letters.
    pub fn note(&mut self, text: &str) {
        let _ = writeln!(self.body, "<p class=\"note\">{}</p>", escape(text));
    }

    /// A command to type.
    pub fn command(&mut self, text: &str) {
        let _ = writeln!(self.body, "<pre><code>{}</code></pre>", escape(text));
    }

    /// Things one under the other.
    pub fn list<'a>(&mut self, items: impl IntoIterator<Item = &'a str>) {
        self.body.push_str("<ul>");
        for item in items {
            let _ = write!(self.body, "<li>{}</li>", escape(item));
        }
        self.body.push_str("</ul>\n");
    }

    /// Names and what they stand for; values in `code` are set as such.
    pub fn terms(&mut self, terms: &[(&str, String)], code: &[&str]) {
        self.body.push_str("<dl>");
        for (name, value) in terms {
            let value = escape(value);
            let value = if code.contains(name) { format!("<code>{value}</code>") } else { value };
            let _ = write!(self.body, "<dt>{}</dt><dd>{value}</dd>", escape(name));
        }
        self.body.push_str("</dl>\n");
    }

    /// A drawing and the sentence beneath it.
    pub fn figure(&mut self, svg: &str, caption: &str) {
        let caption = escape(caption);
        let _ = writeln!(self.body, "<figure><div class=\"scroll\" tabindex=\"0\">{svg}</div><figcaption>{caption}</figcaption></figure>");
    }

    /// A table. One without rows is not written.
    pub fn table(&mut self, table: &Table) {
        if table.rows.is_empty() {
            return;
        }
        let explains = if table.explains.is_empty() { String::new() } else { format!(" {}", escape(table.explains)) };
        let _ = write!(
            self.body,
            "<div class=\"scroll\" tabindex=\"0\"><table><caption><strong>{}</strong>{explains}</caption>",
            escape(table.title)
        );
        self.table_head(table);
        self.table_foot(table);
        self.body.push_str("<tbody>");
        for (index, row) in table.rows.iter().enumerate() {
            let is_total = table.total && index + 1 == table.rows.len();
            self.table_row(row, table.words, is_total);
        }
        self.body.push_str("</tbody></table></div>\n");
    }

    fn table_head(&mut self, table: &Table) {
        self.body.push_str("<thead><tr>");
        for (index, column) in table.columns.iter().enumerate() {
            let _ = write!(self.body, "<th scope=\"col\"{}>{}</th>", class(index, table.words), escape(column));
        }
        self.body.push_str("</tr></thead>");
    }

    fn table_foot(&mut self, table: &Table) {
        if table.footnotes.is_empty() {
            return;
        }
        let _ = write!(self.body, "<tfoot><tr><td colspan=\"{}\">", table.columns.len());
        for footnote in table.footnotes {
            let _ = write!(self.body, "<p>{}</p>", escape(footnote));
        }
        self.body.push_str("</td></tr></tfoot>");
    }

    fn table_row(&mut self, row: &[String], words: usize, is_total: bool) {
        self.body.push_str(if is_total { "<tr class=\"total\">" } else { "<tr>" });
        for (index, cell) in row.iter().enumerate() {
            let (cell, class) = (escape(cell), class(index, words));
            let _ = match index {
                0 => write!(self.body, "<th scope=\"row\"{class}>{cell}</th>"),
                _ => write!(self.body, "<td{class}>{cell}</td>"),
            };
        }
        self.body.push_str("</tr>");
    }

    /// The whole page; the contents stand where the front left room for them.
    #[must_use]
    pub fn finish(self) -> String {
        let mut contents = String::from("<nav aria-label=\"Contents\">");
        for (id, heading) in &self.sections {
            let _ = write!(contents, "<a href=\"#{id}\">{}</a> ", escape(heading));
        }
        contents.push_str("</nav>\n");
        let body = self.body.replacen(CONTENTS, &contents, 1);
        format!(
            "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"/>\
             <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"/>\
             <title>{}</title><style>{STYLE}</style></head>\n<body><header>{GLYPH}\n{body}</main></body></html>\n",
            escape(&self.title)
        )
    }
}

/// Where the contents go; no text of a report can contain it, for its `<` would be escaped.
pub const CONTENTS: &str = "<!--contents-->";

fn class(index: usize, words: usize) -> &'static str {
    if index < words { "" } else { " class=\"n\"" }
}

/// `1 case`, `2 cases`.
#[must_use]
pub fn counted(count: u64, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}
