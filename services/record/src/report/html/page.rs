//! Blocks as markup. Every text passes through [`escape`]; the markup is well formed as XML too, so
//! that any reader can take it apart.

use super::style::{GLYPH, STYLE};
use crate::report::paper::page::{Drawing, Figure, Table, Term};
use crate::report::paper::{Block, Page};
use selachron_statistics::plot::escape;
use std::fmt::Write as _;

/// The whole page.
#[must_use]
pub fn markup(page: &Page) -> String {
    let mut body = String::new();
    for block in &page.blocks {
        match block {
            Block::Contents => {
                contents(&mut body, page);
                body.push_str("</header>\n<main>");
            }
            block => write_block(&mut body, block),
        }
    }
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"/>\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"/>\
         <title>{}</title><style>{STYLE}</style></head>\n<body><header>{GLYPH}\n{body}</main></body></html>\n",
        escape(&page.title)
    )
}

fn contents(body: &mut String, page: &Page) {
    body.push_str("<nav aria-label=\"Contents\">");
    for block in &page.blocks {
        if let Block::Section { id, heading } = block {
            let _ = write!(body, "<a href=\"#{id}\">{}</a> ", escape(heading));
        }
    }
    body.push_str("</nav>\n");
}

fn write_block(body: &mut String, block: &Block) {
    let _ = match block {
        Block::Head { over, title, under } => {
            let (over, title, under) = (escape(over), escape(title), escape(under));
            writeln!(body, "<p>{over}</p><h1>{title}</h1><p class=\"sub\">{under}</p>")
        }
        Block::Banner { text } => writeln!(body, "<p class=\"banner\">{}</p>", escape(text)),
        Block::Verdict { text } => writeln!(body, "<p class=\"verdict\">{}</p>", escape(text)),
        Block::Section { id, heading } => writeln!(body, "<h2 id=\"{id}\">{}</h2>", escape(heading)),
        Block::Heading { text } => writeln!(body, "<h3>{}</h3>", escape(text)),
        Block::Para { text } => writeln!(body, "<p>{}</p>", escape(text)),
        Block::Told { lead, text } => writeln!(body, "<p><strong>{}</strong> {}</p>", escape(lead), escape(text)),
        Block::Note { text } => writeln!(body, "<p class=\"note\">{}</p>", escape(text)),
        Block::Command { text } => writeln!(body, "<pre><code>{}</code></pre>", escape(text)),
        Block::Alarm { heading, blocks } => {
            let _ = write!(body, "<section class=\"fails\"><h2>{}</h2>", escape(heading));
            blocks.iter().for_each(|block| write_block(body, block));
            writeln!(body, "</section>")
        }
        Block::List { items } => {
            let items: String = items.iter().map(|item| format!("<li>{}</li>", escape(item))).collect();
            writeln!(body, "<ul>{items}</ul>")
        }
        Block::Terms { terms } => writeln!(body, "<dl>{}</dl>", terms.iter().map(term).collect::<String>()),
        Block::Figures { items } => {
            let item = |Figure { figure, says, link }: &Figure| {
                format!("<li><b>{}</b><span>{}</span></li>", linked(&escape(figure), link), escape(says))
            };
            writeln!(body, "<ul class=\"heads\">{}</ul>", items.iter().map(item).collect::<String>())
        }
        Block::Drawing(Drawing { svg, caption, .. }) => {
            let caption = escape(caption);
            writeln!(body, "<figure><div class=\"scroll\" tabindex=\"0\">{svg}</div><figcaption>{caption}</figcaption></figure>")
        }
        Block::Table(table) => write!(body, "{}", table_markup(table)),
        // Written where the whole page is known.
        Block::Contents => Ok(()),
    };
}

fn term(term: &Term) -> String {
    let note = |id: &str| linked(&escape(id), &format!("/v1/events/{id}"));
    let value = if term.notes { term.value.split(' ').map(note).collect::<Vec<_>>().join(" ") } else { escape(&term.value) };
    let value = if term.code { format!("<code>{value}</code>") } else { value };
    format!("<dt>{}</dt><dd>{value}</dd>", escape(&term.name))
}

/// Text that leads to where its notes are told, if there is such a place.
fn linked(text: &str, link: &str) -> String {
    if link.is_empty() { text.to_owned() } else { format!("<a href=\"{}\">{text}</a>", escape(link)) }
}

fn table_markup(table: &Table) -> String {
    let explains = if table.explains.is_empty() { String::new() } else { format!(" {}", escape(&table.explains)) };
    let mut markup =
        format!("<div class=\"scroll\" tabindex=\"0\"><table><caption><strong>{}</strong>{explains}</caption>", escape(&table.title));
    table_head(&mut markup, table);
    table_foot(&mut markup, table);
    markup.push_str("<tbody>");
    for (index, row) in table.rows.iter().enumerate() {
        let is_total = table.total && index + 1 == table.rows.len();
        let links = table.links.get(index).map_or(&[][..], Vec::as_slice);
        let notes = (!table.notes.is_empty()).then(|| table.notes.get(index).map_or(&[][..], Vec::as_slice));
        let all_notes = table.all_notes.get(index).map_or("", String::as_str);
        table_row(&mut markup, row, &Row { words: table.words, is_total, links, notes, all_notes });
    }
    markup + "</tbody></table></div>\n"
}

fn table_head(markup: &mut String, table: &Table) {
    markup.push_str("<thead><tr>");
    for (index, column) in table.columns.iter().enumerate() {
        let _ = write!(markup, "<th scope=\"col\"{}>{}</th>", class(index, table.words), escape(column));
    }
    if !table.notes.is_empty() {
        markup.push_str("<th scope=\"col\" class=\"notes\">notes</th>");
    }
    markup.push_str("</tr></thead>");
}

fn table_foot(markup: &mut String, table: &Table) {
    if table.footnotes.is_empty() {
        return;
    }
    let _ = write!(markup, "<tfoot><tr><td colspan=\"{}\">", table.columns.len() + usize::from(!table.notes.is_empty()));
    for footnote in &table.footnotes {
        let _ = write!(markup, "<p>{}</p>", escape(footnote));
    }
    markup.push_str("</td></tr></tfoot>");
}

/// How a row is written.
struct Row<'a> {
    words: usize,
    is_total: bool,
    links: &'a [String],
    notes: Option<&'a [String]>,
    all_notes: &'a str,
}

/// So many notes of a row are linked by themselves.
const NOTES_LINKED_MAX: usize = 3;

fn table_row(markup: &mut String, row: &[String], how: &Row) {
    markup.push_str(if how.is_total { "<tr class=\"total\">" } else { "<tr>" });
    for (index, cell) in row.iter().enumerate() {
        let (class, cell) = (class_of(cell, index, how.words), breakable(cell));
        let cell = linked(&cell, how.links.get(index).map_or("", String::as_str));
        let _ = match index {
            0 => write!(markup, "<th scope=\"row\"{class}>{cell}</th>"),
            _ => write!(markup, "<td{class}>{cell}</td>"),
        };
    }
    if let Some(notes) = how.notes {
        markup.push_str("<td class=\"notes\">");
        for (index, note) in notes.iter().take(NOTES_LINKED_MAX).enumerate() {
            let note = escape(note);
            let _ = write!(markup, "<a href=\"/v1/events/{note}\" title=\"note {note}\">{}</a> ", index + 1);
        }
        if notes.len() > NOTES_LINKED_MAX {
            markup.push_str(&linked(&format!("all {}", notes.len()), how.all_notes));
        }
        markup.push_str("</td>");
    }
    markup.push_str("</tr>");
}

/// So many letters of an id stand together; it may break after them.
const ID_LETTERS_TOGETHER: usize = 8;

/// The text made safe, with places at which ids and paths may break; words never do.
fn breakable(text: &str) -> String {
    let mut markup = String::new();
    let (mut run, mut before) = (0, ' ');
    for letter in text.chars() {
        run = if letter.is_ascii_digit() || letter.is_ascii_uppercase() { run + 1 } else { 0 };
        markup.push_str(&escape(letter.encode_utf8(&mut [0; 4])));
        if (letter == '/' && before.is_alphanumeric()) || run == ID_LETTERS_TOGETHER {
            markup.push_str("<wbr/>");
            run = 0;
        }
        before = letter;
    }
    markup
}

/// So many letters of a cell are never broken: a day, a sex, a word.
const UNBROKEN_CHARS_MAX: usize = 10;

fn class_of(cell: &str, index: usize, words: usize) -> &'static str {
    if index < words && cell.chars().count() <= UNBROKEN_CHARS_MAX { " class=\"w\"" } else { class(index, words) }
}

fn class(index: usize, words: usize) -> &'static str {
    if index < words { "" } else { " class=\"n\"" }
}
