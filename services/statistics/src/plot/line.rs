//! Readings over time against a band: a line for each probe, broken where nothing was read for too
//! long. A reading past the calibration of its instrument is a hollow dot.

use super::frame::{Frame, PLOT_HEIGHT, ROW, TOP};
use super::{Anchor, Canvas, Caption, GAP, WIDTH, column, fitted, short};

/// Readings up to so many are drawn as dots too; of more only the hollow ones are.
const DOTS_MAX: usize = 200;
/// Steps between ticks that read well, times a power of ten.
const STEPS: [f64; 3] = [1.0, 2.0, 5.0];
/// About so many ticks stand on the axis of values.
const TICKS: f64 = 6.0;
/// How the lines differ: a full line first, then dashes.
const DASHES: [&str; 3] = ["", " stroke-dasharray=\"7 4\"", " stroke-dasharray=\"2 3\""];

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// When, in days on the axis.
    pub day: f64,
    /// What was read.
    pub value: f64,
    /// Past the calibration of its instrument.
    pub hollow: bool,
}

/// The readings of one probe, in order of time.
#[derive(Debug, Clone, Default)]
pub struct Line {
    /// Its name.
    pub label: String,
    /// The readings.
    pub readings: Vec<Reading>,
}

/// What the lines are drawn against.
#[derive(Debug, Clone, Default)]
pub struct Against {
    /// Not below this.
    pub low: Option<f64>,
    /// Not above this.
    pub high: Option<f64>,
    /// The line is broken where two readings lie further apart, in days.
    pub gap_days_max: f64,
    /// Days with their labels.
    pub days: Vec<(f64, String)>,
    /// Under the axis of time.
    pub axis: String,
    /// Above the axis of values: the quantity with its unit.
    pub values: String,
}

/// The drawing of these lines.
#[must_use]
pub fn lines(caption: &Caption, lines: &[Line], against: &Against) -> String {
    let (lowest, step, count) = scale(lines, against);
    let labels: Vec<(f64, String)> = (0..=count).map(|at| f64::from(at) * step).map(|up| (up, short(lowest + up))).collect();
    let frame = framed(lines, against, &labels, f64::from(count) * step);
    let mut canvas = Canvas::new();
    shade(&mut canvas, frame, against, lowest);
    frame.heights(&mut canvas, &labels);
    canvas.text(frame.left, TOP + 2.0, Anchor::Start, &against.values);
    for (day, label) in &against.days {
        let (x, y) = (frame.x(*day), frame.y(0.0));
        canvas.line((x, y), (x, y + 5.0), "stroke=\"currentColor\" stroke-width=\"1\"");
        canvas.text(x, y + ROW, Anchor::Middle, label);
    }
    canvas.text((frame.left + frame.right) / 2.0, frame.y(0.0) + 2.0 * ROW, Anchor::Middle, &against.axis);
    for (index, line) in lines.iter().enumerate() {
        draw(&mut canvas, frame, line, lowest, against.gap_days_max, DASHES[index % DASHES.len()]);
    }
    let height = key(&mut canvas, frame, lines);
    canvas.finish(caption, height)
}

/// Where the axis of values begins, the step of its ticks, and how many steps there are.
fn scale(lines: &[Line], against: &Against) -> (f64, f64, u32) {
    let read = lines.iter().flat_map(|line| &line.readings).map(|reading| reading.value);
    let all = || read.clone().chain(against.low).chain(against.high).filter(|value| value.is_finite());
    let (low, high) = (all().reduce(f64::min).unwrap_or(0.0), all().reduce(f64::max).unwrap_or(1.0));
    let span = if high > low { high - low } else { 1.0 };
    let tenth = 10_f64.powf((span / TICKS).log10().floor());
    let fits = |step: &f64| span / (step * tenth) <= TICKS;
    let step = STEPS.into_iter().find(fits).unwrap_or(10.0) * tenth;
    let lowest = (low / step).floor() * step;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few ticks")]
    let count = (((high - lowest) / step).ceil() as u32).max(1);
    (lowest, step, count)
}

fn framed(lines: &[Line], against: &Against, labels: &[(f64, String)], highest: f64) -> Frame {
    let days = || lines.iter().flat_map(|line| &line.readings).map(|reading| reading.day).chain(against.days.iter().map(|(day, _)| *day));
    let (from, to) = (days().reduce(f64::min).unwrap_or(0.0), days().reduce(f64::max).unwrap_or(1.0));
    let to = if to > from { to } else { from + 1.0 };
    let left = column(labels.iter().map(|(_, label)| label.as_str())) + 3.0 * GAP;
    Frame { left, right: WIDTH - 4.0 * GAP, top: TOP + ROW / 2.0, from, to, highest }
}

/// The band, in a light ink, with its edges drawn.
fn shade(canvas: &mut Canvas, frame: Frame, against: &Against, lowest: f64) {
    if against.low.is_none() && against.high.is_none() {
        return;
    }
    let up = |value: f64| (value - lowest).clamp(0.0, frame.highest);
    let (upper, lower) = (frame.y(against.high.map_or(frame.highest, up)), frame.y(against.low.map_or(0.0, up)));
    canvas.rect((frame.left, upper), (frame.right - frame.left, lower - upper), "fill=\"currentColor\" fill-opacity=\"0.1\"");
    let edge = "stroke=\"currentColor\" stroke-width=\"1\" stroke-dasharray=\"1 4\"";
    for y in [against.high.map(|_| upper), against.low.map(|_| lower)].into_iter().flatten() {
        canvas.line((frame.left, y), (frame.right, y), edge);
    }
}

fn draw(canvas: &mut Canvas, frame: Frame, line: &Line, lowest: f64, gap: f64, dash: &str) {
    let point = |reading: &Reading| (frame.x(reading.day), frame.y(reading.value - lowest));
    for run in line.readings.chunk_by(|a, b| b.day - a.day <= gap) {
        let points: Vec<(f64, f64)> = run.iter().map(point).collect();
        if points.len() > 1 {
            canvas.path(&points, false, &format!("fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"{dash}"));
        }
    }
    let few = line.readings.len() <= DOTS_MAX;
    for reading in line.readings.iter().filter(|reading| few || reading.hollow) {
        let fill = if reading.hollow { "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.2\"" } else { "" };
        canvas.circle(point(reading), if reading.hollow { 4.0 } else { 2.0 }, fill);
    }
}

/// Which line is whose, below.
fn key(canvas: &mut Canvas, frame: Frame, lines: &[Line]) -> f64 {
    let mut y = TOP + ROW / 2.0 + PLOT_HEIGHT + 2.5 * ROW;
    for (index, line) in lines.iter().enumerate() {
        y += ROW;
        let style = format!("stroke=\"currentColor\" stroke-width=\"1.5\"{}", DASHES[index % DASHES.len()]);
        canvas.line((frame.left, y - 4.0), (frame.left + 4.0 * GAP, y - 4.0), &style);
        canvas.text(frame.left + 5.0 * GAP, y, Anchor::Start, &fitted(&line.label));
    }
    y + GAP
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(day: f64, value: f64, hollow: bool) -> Reading {
        Reading { day, value, hollow }
    }

    fn against() -> Against {
        Against { low: Some(23.0), high: Some(27.0), gap_days_max: 1.5, days: vec![(0.0, "1 March".to_owned())], ..Against::default() }
    }

    #[test]
    fn gaps_stay_gaps_and_hollow_readings_are_hollow() {
        let readings = vec![read(0.0, 25.0, false), read(1.0, 25.5, false), read(9.0, 28.4, false), read(10.0, 26.0, true)];
        let svg = lines(&Caption::default(), &[Line { label: "probe 3".to_owned(), readings }], &against());
        assert_eq!(svg.matches("<path").count(), 2, "one line before the gap and one after it");
        assert_eq!(svg.matches("fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.2\"").count(), 1);
        assert_eq!(svg.matches("stroke-dasharray=\"1 4\"").count(), 2, "both edges of the band");
        assert!(svg.contains(">probe 3<") && svg.contains(">1 March<") && !svg.contains("NaN"));
    }

    #[test]
    fn the_axis_holds_readings_and_band() {
        let line = Line { label: String::new(), readings: vec![read(0.0, 21.3, false)] };
        let (lowest, step, count) = scale(&[line], &against());
        assert!(lowest <= 21.3 && lowest + f64::from(count) * step >= 27.0 && count <= 8, "{lowest} {step} {count}");
    }

    #[test]
    fn nothing_read_is_an_empty_frame() {
        let svg = lines(&Caption::default(), &[], &Against::default());
        assert!(!svg.contains("<path") && !svg.contains("NaN"));
    }
}
