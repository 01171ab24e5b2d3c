//! How many of each: one bar a line, its label before it, its number and its part after it.

use super::{Anchor, Canvas, Caption, GAP, WIDTH, column, fitted, width_of};

/// Height of one line and of the bar on it.
const LINE: f64 = 26.0;
const BAR: f64 = 16.0;
/// Distance of the strokes of a hatched bar.
const HATCH: f64 = 6.0;

/// How a bar is filled: four that differ without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    /// Full ink.
    Solid,
    /// Oblique strokes.
    Hatched,
    /// Light grey with an edge.
    Light,
    /// An outline of dashes: not decided yet.
    Dashed,
}

/// One bar.
#[derive(Debug, Clone)]
pub struct Bar {
    /// What is counted.
    pub label: String,
    /// How many.
    pub count: u64,
    /// How it looks.
    pub fill: Fill,
}

/// The drawing of these bars. `total` is what their parts are parts of, named by `of`:
/// "14 of 56 cases collected". The bars' common scale ends at the largest of them.
#[must_use]
pub fn bars(caption: &Caption, bars: &[Bar], total: u64, of: &str) -> String {
    let mut canvas = Canvas::new();
    let numbers: Vec<String> = bars.iter().map(|bar| number(bar.count, total)).collect();
    let left = column(bars.iter().map(|bar| bar.label.as_str())) + GAP;
    let right = WIDTH - numbers.iter().map(|text| width_of(text)).fold(0.0, f64::max) - GAP;
    let largest = bars.iter().map(|bar| bar.count).max().unwrap_or(0).max(1);
    let scale = (right - GAP - left) / largest as f64;
    for (index, bar) in bars.iter().enumerate() {
        let top = LINE * index as f64 + (LINE - BAR) / 2.0;
        let base = top + BAR - 4.0;
        canvas.text(left - GAP, base, Anchor::End, &fitted(&bar.label));
        let width = bar.count as f64 * scale;
        draw(&mut canvas, (left, top), width, bar.fill);
        canvas.text(left + width + GAP, base, Anchor::Start, &numbers[index]);
    }
    let bottom = LINE * bars.len() as f64;
    canvas.line((left, 0.0), (left, bottom), "stroke=\"currentColor\" stroke-width=\"1\"");
    canvas.text(left, bottom + LINE - 8.0, Anchor::Start, &format!("of {total} {of}"));
    canvas.finish(caption, bottom + LINE)
}

fn number(count: u64, total: u64) -> String {
    match total {
        0 => count.to_string(),
        _ => format!("{count} ({:.1} %)", 100.0 * count as f64 / total as f64),
    }
}

fn draw(canvas: &mut Canvas, corner: (f64, f64), width: f64, fill: Fill) {
    if width <= 0.0 {
        return;
    }
    let size = (width, BAR);
    match fill {
        Fill::Solid => canvas.rect(corner, size, "fill=\"currentColor\""),
        Fill::Light => canvas.rect(corner, size, "fill=\"currentColor\" fill-opacity=\"0.25\" stroke=\"currentColor\" stroke-width=\"1\""),
        Fill::Dashed => canvas.rect(corner, size, "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.2\" stroke-dasharray=\"4 3\""),
        Fill::Hatched => hatched(canvas, corner, width),
    }
}

/// Strokes drawn one by one: a `<pattern>` would need an id and prints badly in places.
fn hatched(canvas: &mut Canvas, (x, y): (f64, f64), width: f64) {
    canvas.rect((x, y), (width, BAR), "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.2\"");
    let mut start = HATCH - BAR;
    while start < width {
        // A stroke rises by its own height to the right; both ends are cut to the bar.
        let (from, to) = (start.max(0.0), (start + BAR).min(width));
        let height = |at: f64| y + BAR - (at - start);
        canvas.line((x + from, height(from)), (x + to, height(to)), "stroke=\"currentColor\" stroke-width=\"1\"");
        start += HATCH;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn caption() -> Caption {
        Caption { id: "f".to_owned(), title: "What became of them".to_owned(), finding: "27 of 56 hatched & more".to_owned() }
    }

    fn bar(label: &str, count: u64, fill: Fill) -> Bar {
        Bar { label: label.to_owned(), count, fill }
    }

    #[test]
    fn the_largest_bar_fills_the_scale_and_others_are_in_proportion() {
        let svg = bars(&caption(), &[bar("hatched", 40, Fill::Solid), bar("lost", 10, Fill::Light)], 50, "cases collected");
        let widths: Vec<f64> = svg.split("width=\"").skip(1).filter_map(|rest| rest.split('"').next()?.parse().ok()).collect();
        assert!(widths.iter().any(|w| widths.iter().any(|v| (w / v - 4.0).abs() < 0.01)), "{widths:?}");
        assert!(svg.contains("40 (80.0 %)") && svg.contains("of 50 cases collected"));
        assert!(svg.contains("27 of 56 hatched &amp; more"), "the finding is said in words");
    }

    #[test]
    fn nothing_to_count_divides_by_nothing() {
        let svg = bars(&caption(), &[bar("hatched", 0, Fill::Hatched)], 0, "cases");
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
    }

    #[test]
    fn strokes_stay_inside_the_bar() {
        let svg = bars(&caption(), &[bar("a", 3, Fill::Hatched), bar("b", 100, Fill::Solid)], 103, "cases");
        assert!(svg.matches("<line").count() > 2, "a hatched bar has strokes");
        for x in svg.split("x2=\"").skip(1).filter_map(|rest| rest.split('"').next()?.parse::<f64>().ok()) {
            assert!((0.0..=WIDTH).contains(&x));
        }
    }
}
