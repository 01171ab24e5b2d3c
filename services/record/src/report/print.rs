//! Pages to be printed: the sheet of a round, with empty boxes, and labels with their codes. A page
//! loads nothing and runs nothing.

use super::words::doubt;
use crate::domain::state::{Movement, RoundSheet, SheetCase, SheetPlace, Sticker};
use qrcodegen::{QrCode, QrCodeEcc};
use selachron_schemas::encoding::hex;
use selachron_schemas::event::FROM_PAPER;
use selachron_schemas::limits::PAGE_HASH_CHARS;
use selachron_schemas::merkle::sha256;
use selachron_statistics::plot::escape;
use std::fmt::Write as _;

const STYLE: &str = "@page{margin:12mm}body{font:12pt/1.35 sans-serif;color:#000;background:#fff;margin:0}h1{font-size:16pt;margin:0 0 2mm}\
p{margin:1mm 0}table{border-collapse:collapse;width:100%}th,td{border:0.3mm solid #000;padding:1.5mm;text-align:left;vertical-align:top}\
thead{display:table-header-group}tr{break-inside:avoid}td.box{width:9mm;height:9mm}code{font-size:10pt}\
.code{float:right}.code svg{width:26mm;height:26mm}.labels{display:flex;flex-wrap:wrap;gap:3mm}.label{border:0.2mm dashed #000;padding:2mm;width:58mm;display:flex;gap:2mm;break-inside:avoid}\
.label svg{width:24mm;height:24mm;flex:none}.label b{font-size:16pt;display:block;overflow-wrap:anywhere}.label span{font-size:8pt;display:block;overflow-wrap:anywhere}";

/// What is written down for each case; the boxes are empty.
const BOXES: [&str; 6] = ["looked", "band 0-7", "moving", "still", "could not tell", "remark"];

/// Where a sheet stands in the record.
#[derive(Debug, Clone)]
pub struct Footing {
    /// The collection.
    pub collection: String,
    /// The moment looked at, for people.
    pub as_of: String,
    /// Notes known.
    pub known_at: u64,
    /// The root over them, base64.
    pub root: String,
    /// Notes among these that were recorded while their author's key was suspected.
    pub suspected: u64,
    /// The season is invented.
    pub simulated: bool,
}

/// The first digits of the SHA-256 of what a sheet says: they tell one sheet from another.
#[must_use]
pub fn page_hash(sheet: &RoundSheet, footing: &Footing) -> String {
    let told = format!("{}\n{}\n{}\n{}", serde_json::to_string(sheet).unwrap_or_default(), footing.as_of, footing.known_at, footing.root);
    hex(&sha256(told.as_bytes())).chars().take(PAGE_HASH_CHARS).collect()
}

/// How the sheet is named when it is written down afterwards, without the person.
#[must_use]
pub fn sheet_name(sheet: &RoundSheet, footing: &Footing) -> String {
    format!("sheet {} of {}, log size {}", page_hash(sheet, footing), sheet.label, footing.known_at)
}

/// The sheet of a round.
#[must_use]
pub fn sheet(sheet: &RoundSheet, footing: &Footing) -> String {
    let code = code(&sheet_code(sheet, footing)).unwrap_or_default();
    let mut body = format!("<div class=\"code\">{code}</div><h1>Round: {}</h1>\n", escape(&sheet.label));
    let invented = if footing.simulated { " Invented season, simulated clock." } else { "" };
    let _ = writeln!(
        body,
        "<p>{}, made at {}. {} cases in {} places.{invented}</p>",
        escape(&footing.collection),
        escape(&footing.as_of),
        sheet.cases,
        sheet.places.len()
    );
    body.push_str("<p>Looked at by ________________ on ____________ from ______ to ______. Cases stay under water, their way up; no knocks, the shortest light that answers the question (common practice, no source).</p>\n");
    body.push_str("<table><thead><tr><th>place</th><th>case</th><th>last look</th><th>due</th>");
    for name in BOXES {
        let _ = write!(body, "<th>{name}</th>");
    }
    body.push_str("</tr></thead><tbody>\n");
    sheet.places.iter().for_each(|place| rows(&mut body, place));
    body.push_str("</tbody></table>\n");
    in_doubt(&mut body, footing);
    let name = sheet_name(sheet, footing);
    let _ = writeln!(body, "<p>Places filled ______, looked at ______. Root <code>{}</code></p>", escape(&footing.root));
    let _ = writeln!(
        body,
        "<p>To write it down: each note with <code>--paper \"{}, by WHOM\"</code>; it then says \"{FROM_PAPER}{}, by WHOM\".</p>",
        escape(&name),
        escape(&name)
    );
    page(&format!("Round {}", sheet.label), &body)
}

/// What the code on a sheet says: the pages find the sheet by it.
fn sheet_code(sheet: &RoundSheet, footing: &Footing) -> String {
    let (hash, tank) = (page_hash(sheet, footing), &sheet.tank);
    format!("sheet {hash} of {tank}, log size {}, as of {}", footing.known_at, footing.as_of)
}

fn in_doubt(body: &mut String, footing: &Footing) {
    if let Some(words) = doubt(footing.suspected) {
        let _ = writeln!(body, "<p><b>{}</b> Lines that rest on one say \"suspected\".</p>", escape(&words));
    }
}

fn rows(body: &mut String, place: &SheetPlace) {
    let row = place.row.as_ref().map_or(String::new(), |row| format!("{row} · "));
    let named = place.label.as_ref().map_or("in no place".to_owned(), |label| format!("{row}{label}"));
    let boxes = "<td class=\"box\"></td>".repeat(BOXES.len());
    if place.cases.is_empty() {
        let _ = writeln!(body, "<tr><td>{}</td><td>empty</td><td></td><td></td>{boxes}</tr>", escape(&named));
    }
    for case in &place.cases {
        let due = escape(&case.due.join(", "));
        let _ = writeln!(
            body,
            "<tr><td>{}</td><td><b>{}</b></td><td>{}</td><td>{due}</td>{boxes}</tr>",
            escape(&named),
            escape(&case.label),
            escape(&look(case))
        );
    }
}

fn look(case: &SheetCase) -> String {
    let movement = match case.movement {
        Some(Movement::Moving) => ", moving",
        Some(Movement::Still) => ", still",
        Some(Movement::CouldNotTell) => ", could not tell",
        None => "",
    };
    let band = case.band.map_or(String::new(), |band| format!(", band {band}"));
    let held = if case.held_apart { " (held apart)" } else { "" };
    let doubted = if case.suspected.is_empty() { "" } else { " (suspected)" };
    case.last_look.map_or(format!("not yet{held}{doubted}"), |day| format!("{day}{band}{movement}{held}{doubted}"))
}

/// A sheet of labels; the code says the subject's id.
#[must_use]
pub fn labels(stickers: &[Sticker], footing: &Footing) -> String {
    let mut body = String::from("<div class=\"labels\">\n");
    for sticker in stickers {
        let code = code(sticker.subject.as_str()).unwrap_or_default();
        let (label, below, id) = (escape(&sticker.label), escape(&sticker.below), escape(sticker.subject.as_str()));
        let _ = writeln!(body, "<div class=\"label\">{code}<div><b>{label}</b><span>{below}</span><span>{id}</span></div></div>");
    }
    let _ = writeln!(body, "</div>\n<p>{}, {} labels, log size {}.</p>", escape(&footing.collection), stickers.len(), footing.known_at);
    page("Labels", &body)
}

/// A QR code (ISO/IEC 18004) as SVG, with the quiet zone of four modules that it asks for.
#[must_use]
pub fn code(text: &str) -> Option<String> {
    const QUIET: i32 = 4;
    let code = QrCode::encode_text(text, QrCodeEcc::Medium).ok()?;
    let size = code.size() + 2 * QUIET;
    let mut path = String::new();
    for (x, y) in (0..code.size()).flat_map(|y| (0..code.size()).map(move |x| (x, y))) {
        if code.get_module(x, y) {
            let _ = write!(path, "M{},{}h1v1h-1z", x + QUIET, y + QUIET);
        }
    }
    let told = escape(text);
    Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {size} {size}\" role=\"img\" aria-label=\"{told}\" shape-rendering=\"crispEdges\">\
         <rect width=\"{size}\" height=\"{size}\" fill=\"#fff\"/><path d=\"{path}\" fill=\"#000\"/></svg>"
    ))
}

fn page(title: &str, body: &str) -> String {
    let title = escape(title);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"/><title>{title}</title><style>{STYLE}</style></head>\n<body>\n{body}</body></html>\n"
    )
}
