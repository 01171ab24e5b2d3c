//! Drawings made from numbers alone: SVG text, the same bytes for the same numbers.
//!
//! They are to be read on paper in black and white as well: lines differ by dash, bars by hatching,
//! and every mark is labelled where it stands, never by colour alone. The ink is `currentColor`, so
//! a page may be light or dark. `<title>` names the drawing and `<desc>` says its finding in words.
//!
//! * [`bars`]: how many of each, one bar a line;
//! * [`intervals`]: proportions with what is known of them;
//! * `frame`: what drawings over an axis have in common;
//! * [`steps`]: survival with its band and the numbers at risk;
//! * [`stacked`](mod@stacked): the fates of all cases, stacked;
//! * [`bands`](mod@bands): survival known only between two looks;
//! * [`fit`](mod@fit): dots, the line through them, and the interval of a new one;
//! * [`line`](mod@line): readings over time against a band;
//! * [`ribbon`](mod@ribbon): windows with their probabilities.

pub mod bars;

pub mod intervals;

mod frame;

pub mod steps;

pub mod stacked;

pub mod bands;

pub mod fit;

pub mod line;

pub mod ribbon;

use std::fmt::Write as _;

/// Width of every drawing, in its own units; the page scales it.
pub const WIDTH: f64 = 680.0;
/// Size of the letters, in the same units.
const LETTER: f64 = 13.0;
/// Space around labels.
const GAP: f64 = 8.0;
/// Advance of a letter over its size, on the generous side for any sans-serif face.
const ADVANCE: f64 = 0.58;
/// The same for letters of full width (Chinese, Japanese, Korean scripts).
const ADVANCE_WIDE: f64 = 1.05;
/// The widest a column of labels may become; longer labels are cut and end in an ellipsis.
const LABEL_WIDTH_MAX: f64 = 230.0;

/// What a drawing is called and what it shows.
#[derive(Debug, Clone, Default)]
pub struct Caption {
    /// An XML id, not used by another drawing of the page.
    pub id: String,
    /// The name.
    pub title: String,
    /// The finding, in words.
    pub finding: String,
}

/// Where a text is held.
#[derive(Debug, Clone, Copy)]
enum Anchor {
    Start,
    Middle,
    End,
}

/// An SVG that grows; coordinates are rounded to hundredths.
struct Canvas {
    body: String,
}

impl Canvas {
    fn new() -> Self {
        Self { body: String::new() }
    }

    fn text(&mut self, x: f64, y: f64, anchor: Anchor, text: &str) {
        self.styled_text(x, y, anchor, text, "");
    }

    fn strong(&mut self, x: f64, y: f64, anchor: Anchor, text: &str) {
        self.styled_text(x, y, anchor, text, " font-weight=\"600\"");
    }

    fn styled_text(&mut self, x: f64, y: f64, anchor: Anchor, text: &str, style: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let (x, y, text) = (short(x), short(y), escape(text));
        let _ = write!(self.body, "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\"{style}>{text}</text>");
    }

    fn line(&mut self, from: (f64, f64), to: (f64, f64), style: &str) {
        let (x1, y1, x2, y2) = (short(from.0), short(from.1), short(to.0), short(to.1));
        let _ = write!(self.body, "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" {style}/>");
    }

    fn rect(&mut self, corner: (f64, f64), size: (f64, f64), style: &str) {
        let (x, y, width, height) = (short(corner.0), short(corner.1), short(size.0), short(size.1));
        let _ = write!(self.body, "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" {style}/>");
    }

    fn circle(&mut self, centre: (f64, f64), radius: f64, style: &str) {
        let (x, y, r) = (short(centre.0), short(centre.1), short(radius));
        let _ = write!(self.body, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" {style}/>");
    }

    fn path(&mut self, points: &[(f64, f64)], closed: bool, style: &str) {
        let mut data = String::new();
        for (index, (x, y)) in points.iter().enumerate() {
            let _ = write!(data, "{}{} {}", if index == 0 { 'M' } else { 'L' }, short(*x), short(*y));
        }
        let end = if closed { "Z" } else { "" };
        let _ = write!(self.body, "<path d=\"{data}{end}\" {style}/>");
    }

    /// A path of curves; `data` is made of numbers alone.
    fn raw_path(&mut self, data: &str, style: &str) {
        let _ = write!(self.body, "<path d=\"{data}\" {style}/>");
    }

    /// The whole drawing, `height` units high.
    fn finish(self, caption: &Caption, height: f64) -> String {
        let (id, title, finding) = (escape(&caption.id), escape(&caption.title), escape(&caption.finding));
        let (width, height) = (short(WIDTH), short(height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" role=\"img\" \
             aria-labelledby=\"{id}-title {id}-desc\" font-family=\"system-ui,sans-serif\" font-size=\"{LETTER}\" fill=\"currentColor\">\
             <title id=\"{id}-title\">{title}</title><desc id=\"{id}-desc\">{finding}</desc>{}</svg>\n",
            self.body
        )
    }
}

/// A drawing of this module with words beneath it: what a reader must know of the numbers. They are
/// seen, and end the description.
#[must_use]
pub fn with_words_beneath(svg: &str, words: &str) -> String {
    let size = svg.split_once("viewBox=\"0 0 ").and_then(|(_, rest)| rest.split_once('"'));
    let height = size.and_then(|(size, _)| size.split_once(' ')?.1.parse::<f64>().ok()).unwrap_or_default();
    let mut beneath = Canvas::new();
    beneath.strong(GAP, height + LETTER + GAP, Anchor::Start, words);
    let (before, after) = (format!("viewBox=\"0 0 {} {}\"", short(WIDTH), short(height)), short(height + LETTER + 3.0 * GAP));
    svg.replacen(&before, &format!("viewBox=\"0 0 {} {after}\"", short(WIDTH)), 1)
        .replacen("</desc>", &format!(" {}</desc>", escape(words)), 1)
        .replacen("</svg>", &format!("{}</svg>", beneath.body), 1)
}

/// Text made safe between tags and in attributes of XML and HTML. What XML 1.0 cannot hold at all
/// (control characters but TAB, LF, CR) becomes U+FFFD, so that nothing disappears unseen.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(letter),
            '\u{fffe}' | '\u{ffff}' => safe.push('\u{fffd}'),
            letter if letter.is_control() => safe.push('\u{fffd}'),
            letter => safe.push(letter),
        }
    }
    safe
}

/// What a drawing says to whoever cannot see it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Alternative {
    /// Its name.
    pub title: String,
    /// Its finding, in words.
    pub finding: String,
}

/// The name and the finding that a drawing of this module carries; empty where it carries none.
#[must_use]
pub fn alternative(svg: &str) -> Alternative {
    let within = |tag: &str| -> String {
        let opened = svg.split_once(&format!("<{tag}")).and_then(|(_, rest)| rest.split_once('>'));
        let text = opened.and_then(|(_, rest)| rest.split_once(&format!("</{tag}>")));
        text.map_or_else(String::new, |(text, _)| unescape(text))
    };
    Alternative { title: within("title"), finding: within("desc") }
}

/// The text that [`escape`] made safe.
fn unescape(text: &str) -> String {
    let entities = [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#39;", "'"), ("&amp;", "&")];
    entities.iter().fold(text.to_owned(), |text, (entity, letter)| text.replace(entity, letter))
}

/// About how wide a text will be, in units of the drawing.
fn width_of(text: &str) -> f64 {
    let advance = |letter: char| if letter >= '\u{1100}' { ADVANCE_WIDE } else { ADVANCE };
    text.chars().map(advance).sum::<f64>() * LETTER
}

/// The text, cut to the widest column there may be.
fn fitted(text: &str) -> String {
    if width_of(text) <= LABEL_WIDTH_MAX {
        return text.to_owned();
    }
    let mut cut = String::new();
    for letter in text.chars() {
        if width_of(&cut) + 2.0 * ADVANCE_WIDE * LETTER > LABEL_WIDTH_MAX {
            break;
        }
        cut.push(letter);
    }
    cut + "…"
}

/// The width of a column that holds these labels.
fn column<'a>(labels: impl Iterator<Item = &'a str>) -> f64 {
    labels.map(|label| width_of(&fitted(label))).fold(0.0, f64::max)
}

/// A coordinate with at most two decimals and no trailing zeros.
fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_made_safe() {
        assert_eq!(escape("<b>&\"'\u{7}"), "&lt;b&gt;&amp;&quot;&#39;\u{fffd}");
    }

    #[test]
    fn a_drawing_says_what_it_shows() {
        let caption = Caption { id: "a".to_owned(), title: "Rates & <more>".to_owned(), finding: "it's \"&lt;\"".to_owned() };
        let found = alternative(&Canvas::new().finish(&caption, 10.0));
        assert_eq!((found.title, found.finding), (caption.title, caption.finding));
        assert_eq!(alternative("<svg></svg>"), Alternative::default());
    }

    #[test]
    fn words_beneath_are_seen_and_described_and_cover_nothing() {
        let caption = Caption { id: "f".to_owned(), title: "T".to_owned(), finding: "27 of 56.".to_owned() };
        let plain = Canvas::new().finish(&caption, 120.5);
        let told = with_words_beneath(&plain, "1 of them <is> in doubt.");
        assert!(told.contains("viewBox=\"0 0 680 157.5\"") && !told.contains("120.5\""), "{told}");
        assert!(told.contains("<desc id=\"f-desc\">27 of 56. 1 of them &lt;is&gt; in doubt.</desc>"), "{told}");
        assert!(told.contains("y=\"141.5\"") && told.ends_with("in doubt.</text></svg>\n"), "{told}");
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!([short(1.0), short(0.127), short(-0.001), short(12.5)], ["1", "0.13", "0", "12.5"].map(str::to_owned));
    }

    #[test]
    fn long_labels_are_cut_to_the_column() {
        let label = "W".repeat(200);
        assert!(width_of(&fitted(&label)) <= LABEL_WIDTH_MAX);
        assert!(fitted(&label).ends_with('…'));
        assert_eq!(fitted("Chiloscyllium"), "Chiloscyllium");
    }
}
