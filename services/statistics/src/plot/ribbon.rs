//! Windows, one a line: a leaf from the day by which 5 % are complete to that by which 95 % are, the
//! leaf from 25 to 75 % inside it, and a stroke at the middle. The width of a leaf is how unsure one
//! is; a window is a probability, never a date. Where there is none the reason stands in its place.

use super::{Anchor, Canvas, Caption, GAP, WIDTH, column, escape, fitted};

/// Height of a line, and of the weeks above the first.
const LINE: f64 = 34.0;
const TOP: f64 = 28.0;
/// How far the leaves bulge to both sides.
const OUTER: f64 = 11.0;
const INNER: f64 = 7.0;
/// Days of a week.
const WEEK: f64 = 7.0;
/// The axis reaches at least so many days ahead, and so many beyond all windows.
const AHEAD_DAYS: f64 = 28.0;
const MARGIN_DAYS: f64 = 2.0;
/// About so many weeks are named.
const WEEKS_NAMED: f64 = 9.0;

/// Days from now, not going back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Days {
    /// By this day with 5 %.
    pub p05: f64,
    /// 25 %.
    pub p25: f64,
    /// 50 %.
    pub p50: f64,
    /// 75 %.
    pub p75: f64,
    /// 95 %.
    pub p95: f64,
}

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub struct Leaf {
    /// Its name.
    pub label: String,
    /// The window, with what it rests on in a word; or why there is none.
    pub window: Result<(Days, String), String>,
}

/// The drawing of these windows. `now` names the line of today.
#[must_use]
pub fn ribbon(caption: &Caption, leaves: &[Leaf], now: &str) -> String {
    let windows = || leaves.iter().filter_map(|leaf| leaf.window.as_ref().ok());
    let first = windows().map(|(days, _)| days.p05).fold(0.0, f64::min) - MARGIN_DAYS;
    let last = windows().map(|(days, _)| days.p95).fold(AHEAD_DAYS, f64::max) + MARGIN_DAYS;
    let left = column(leaves.iter().map(|leaf| leaf.label.as_str()).chain([now])) + 2.0 * GAP;
    let right = WIDTH - column(windows().map(|(_, basis)| basis.as_str())) - 2.0 * GAP;
    let scale = Scale { first, last, left, right };
    let height = TOP + LINE * leaves.len().max(1) as f64 + GAP;
    let mut canvas = Canvas::new();
    scale.weeks(&mut canvas, height, now);
    for (index, leaf) in leaves.iter().enumerate() {
        draw(&mut canvas, &scale, leaf, TOP + LINE * (index as f64 + 0.5));
    }
    let x = scale.x(0.0);
    canvas.line((x, TOP - GAP), (x, height - GAP), "stroke=\"currentColor\" stroke-width=\"1.5\" stroke-dasharray=\"3 3\"");
    canvas.finish(caption, height)
}

struct Scale {
    first: f64,
    last: f64,
    left: f64,
    right: f64,
}

impl Scale {
    fn x(&self, day: f64) -> f64 {
        self.left + (self.right - self.left) * (day - self.first) / (self.last - self.first)
    }

    fn weeks(&self, canvas: &mut Canvas, height: f64, now: &str) {
        let every = WEEK * ((self.last - self.first) / WEEK / WEEKS_NAMED).ceil().max(1.0);
        let mut day = (self.first / every).ceil() * every;
        while day <= self.last {
            let x = self.x(day);
            canvas.line((x, TOP - GAP), (x, height - GAP), "stroke=\"currentColor\" stroke-width=\"1\" stroke-opacity=\"0.2\"");
            match day == 0.0 {
                true => canvas.strong(x, 12.0, Anchor::Middle, now),
                false => canvas.text(x, 12.0, Anchor::Middle, &format!("{:+.0} wk", day / WEEK).replace('-', "\u{2212}")),
            }
            day += every;
        }
    }
}

fn draw(canvas: &mut Canvas, scale: &Scale, leaf: &Leaf, middle: f64) {
    canvas.strong(scale.left - 2.0 * GAP, middle + 4.0, Anchor::End, &fitted(&leaf.label));
    match &leaf.window {
        Err(reason) => canvas.text(scale.left, middle + 4.0, Anchor::Start, &format!("not known: {reason}")),
        Ok((days, basis)) => {
            let ends = |from: f64, to: f64| (scale.x(from), scale.x(days.p50), scale.x(to));
            let past = if days.p95 < 0.0 { " stroke-dasharray=\"4 3\"" } else { "" };
            outline(
                canvas,
                ends(days.p05, days.p95),
                middle,
                OUTER,
                &format!("fill=\"currentColor\" fill-opacity=\"0.15\" stroke=\"currentColor\"{past}"),
            );
            outline(canvas, ends(days.p25, days.p75), middle, INNER, "fill=\"currentColor\" fill-opacity=\"0.45\"");
            let x = scale.x(days.p50);
            canvas.line((x, middle - GAP), (x, middle + GAP), "stroke=\"currentColor\" stroke-width=\"2\"");
            canvas.text(scale.right + GAP, middle + 4.0, Anchor::Start, &fitted(basis));
        }
    }
}

/// A leaf: two arcs between its ends, farthest apart above the middle day.
fn outline(canvas: &mut Canvas, (from, middle, to): (f64, f64, f64), y: f64, half: f64, style: &str) {
    let short = super::short;
    let arc = |side: f64, end: f64| format!("Q{} {} {} {}", short(middle), short(y + side * 2.0 * half), short(end), short(y));
    let data = format!("M{} {}{}{}Z", short(from), short(y), arc(-1.0, to), arc(1.0, from));
    canvas.raw_path(&escape(&data), style);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leaf(label: &str, days: [f64; 5]) -> Leaf {
        let [p05, p25, p50, p75, p95] = days;
        Leaf { label: label.to_owned(), window: Ok((Days { p05, p25, p50, p75, p95 }, "fitted".to_owned())) }
    }

    #[test]
    fn a_window_is_two_leaves_and_a_stroke_and_a_reason_is_words() {
        let none = Leaf { label: "B2".to_owned(), window: Err("no readings".to_owned()) };
        let svg = ribbon(&Caption::default(), &[leaf("A1", [3.0, 8.0, 12.0, 16.0, 22.0]), none], "today");
        assert_eq!(svg.matches("<path").count(), 2);
        for words in [">A1<", ">B2<", ">not known: no readings<", ">fitted<", ">today<", ">+1 wk<"] {
            assert!(svg.contains(words), "{words}: {svg}");
        }
    }

    #[test]
    fn days_keep_their_order_on_the_axis() {
        let svg = ribbon(&Caption::default(), &[leaf("A1", [-40.0, -35.0, -30.0, -25.0, -20.0])], "today");
        assert!(svg.contains("stroke-dasharray=\"4 3\""), "past its window: dashed");
        let first = svg.split("<path d=\"M").nth(1).and_then(|rest| rest.split(' ').next()?.parse::<f64>().ok()).expect("its first day");
        let today = svg.rsplit("x1=\"").next().and_then(|rest| rest.split('"').next()?.parse::<f64>().ok()).expect("today");
        assert!(first < today && (0.0..=WIDTH).contains(&first), "{first} {today}");
    }

    #[test]
    fn nothing_is_an_empty_frame() {
        let svg = ribbon(&Caption::default(), &[], "today");
        assert!(!svg.contains("NaN") && !svg.contains("<path"));
    }
}
