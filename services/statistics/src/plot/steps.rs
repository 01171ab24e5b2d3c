//! Survival: a step curve with its confidence band, a tick for each censored case, and below it how
//! many were at risk.

use super::{Anchor, Canvas, Caption, GAP, WIDTH, column, fitted};

const PLOT_HEIGHT: f64 = 260.0;
const TOP: f64 = 12.0;
const ROW: f64 = 20.0;
const PERCENT: [f64; 6] = [0.0, 0.2, 0.4, 0.6, 0.8, 1.0];
/// Steps between ticks that read well on an axis of days.
const DAY_STEPS: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 90.0, 180.0, 365.0];
/// At most so many ticks on the axis of days.
const TICKS_MAX: f64 = 8.0;
/// Half the height of a censoring tick.
const TICK: f64 = 5.0;
/// How the curves differ: a full line first, then dashes.
const DASHES: [&str; 3] = ["", " stroke-dasharray=\"7 4\"", " stroke-dasharray=\"2 3\""];

/// A level piece of a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Where it begins, in days.
    pub from_days: f64,
    /// Where it ends, in days.
    pub to_days: f64,
    /// Survival on it, 0 to 1.
    pub survival: f64,
    /// The interval on it, where one can be estimated.
    pub band: Option<(f64, f64)>,
}

/// One curve.
#[derive(Debug, Clone, Default)]
pub struct Series {
    /// Its name, written at the curve and before its numbers at risk.
    pub label: String,
    /// The curve, in order of age.
    pub pieces: Vec<Piece>,
    /// Ages at which somebody was censored, in days.
    pub censored_days: Vec<f64>,
    /// How many are at risk at the ages of [`ticks`], in order.
    pub at_risk: Vec<u64>,
}

/// The ages under the axis, in days, for a curve of that length: the numbers at risk are wanted for
/// these. There are at least two.
#[must_use]
pub fn ticks(longest_days: f64) -> Vec<f64> {
    let wanted = longest_days.max(1.0);
    let fits = |step: &&f64| wanted / **step <= TICKS_MAX;
    let step = DAY_STEPS.iter().find(fits).copied().unwrap_or_else(|| (wanted / TICKS_MAX / 365.0).ceil() * 365.0);
    (0..=(wanted / step).ceil() as u32).map(|index| f64::from(index) * step).collect()
}

/// The drawing of these curves over one axis. `axis` names the age, `watched` the row of numbers.
#[must_use]
pub fn steps(caption: &Caption, series: &[Series], axis: &str, watched: &str) -> String {
    let longest = series.iter().flat_map(|s| &s.pieces).map(|p| p.to_days).fold(0.0, f64::max);
    let days = ticks(longest);
    let frame = Frame::new(series, *days.last().unwrap_or(&1.0));
    let mut canvas = Canvas::new();
    frame.axes(&mut canvas, &days, axis);
    for one in series {
        frame.band(&mut canvas, one);
    }
    for (index, one) in series.iter().enumerate() {
        frame.curve(&mut canvas, one, DASHES[index % DASHES.len()]);
        frame.label(&mut canvas, series, index);
    }
    let height = frame.at_risk(&mut canvas, series, &days, watched);
    canvas.finish(caption, height)
}

struct Frame {
    left: f64,
    right: f64,
    last_day: f64,
}

impl Frame {
    /// The labels stand left of the numbers at risk, and right of the curves when there are several.
    fn new(series: &[Series], last_day: f64) -> Self {
        let labels = column(series.iter().map(|s| s.label.as_str()).chain(["100 %"]));
        let right = if series.len() > 1 { WIDTH - labels - GAP } else { WIDTH - 3.0 * GAP };
        Self { left: labels + 4.0 * GAP, right, last_day }
    }

    fn x(&self, days: f64) -> f64 {
        self.left + (self.right - self.left) * (days / self.last_day).clamp(0.0, 1.0)
    }

    fn y(&self, part: f64) -> f64 {
        TOP + PLOT_HEIGHT * (1.0 - part.clamp(0.0, 1.0))
    }

    fn axes(&self, canvas: &mut Canvas, days: &[f64], axis: &str) {
        for part in PERCENT {
            let y = self.y(part);
            let ink = if part == 0.0 { "1" } else { "0.2" };
            canvas.line((self.left, y), (self.right, y), &format!("stroke=\"currentColor\" stroke-width=\"1\" stroke-opacity=\"{ink}\""));
            canvas.text(self.left - GAP, y + 4.0, Anchor::End, &format!("{:.0} %", part * 100.0));
        }
        for day in days {
            let (x, y) = (self.x(*day), self.y(0.0));
            canvas.line((x, y), (x, y + 5.0), "stroke=\"currentColor\" stroke-width=\"1\"");
            canvas.text(x, y + ROW, Anchor::Middle, &format!("{day:.0}"));
        }
        canvas.text((self.left + self.right) / 2.0, self.y(0.0) + 2.0 * ROW, Anchor::Middle, axis);
    }

    /// Each run of pieces with an interval becomes one shape.
    fn band(&self, canvas: &mut Canvas, series: &Series) {
        for run in series.pieces.chunk_by(|a, b| a.band.is_some() == b.band.is_some()) {
            let (mut upper, mut lower) = (Vec::new(), Vec::new());
            for (piece, (low, high)) in run.iter().filter_map(|piece| Some((piece, piece.band?))) {
                let (from, to) = (self.x(piece.from_days), self.x(piece.to_days));
                upper.extend([(from, self.y(high)), (to, self.y(high))]);
                lower.extend([(from, self.y(low)), (to, self.y(low))]);
            }
            upper.extend(lower.into_iter().rev());
            if !upper.is_empty() {
                canvas.path(&upper, true, "fill=\"currentColor\" fill-opacity=\"0.13\"");
            }
        }
    }

    fn curve(&self, canvas: &mut Canvas, series: &Series, dash: &str) {
        let corners = |piece: &Piece| [(self.x(piece.from_days), self.y(piece.survival)), (self.x(piece.to_days), self.y(piece.survival))];
        let Some(first) = series.pieces.first() else { return };
        // All were alive at the start: deaths on day 0 are a step too.
        let start = (self.x(first.from_days), self.y(1.0));
        let points: Vec<(f64, f64)> = std::iter::once(start).chain(series.pieces.iter().flat_map(corners)).collect();
        canvas.path(&points, false, &format!("fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"{dash}"));
        for day in &series.censored_days {
            let (x, y) = (self.x(*day), self.y(survival_at(&series.pieces, *day)));
            canvas.line((x, y - TICK), (x, y + TICK), "stroke=\"currentColor\" stroke-width=\"1\"");
        }
    }

    /// Directly at the end of the curve; a label that would touch the one before it moves down.
    fn label(&self, canvas: &mut Canvas, series: &[Series], index: usize) {
        if series.len() < 2 {
            return;
        }
        let end = |one: &Series| one.pieces.last().map_or(TOP, |piece| self.y(piece.survival)) + 4.0;
        let mut wanted: Vec<(usize, f64)> = series.iter().enumerate().map(|(index, one)| (index, end(one))).collect();
        wanted.sort_by(|a, b| a.1.total_cmp(&b.1));
        let mut lowest = f64::NEG_INFINITY;
        for (which, y) in wanted {
            lowest = y.max(lowest + ROW);
            if which == index {
                canvas.strong(self.right + GAP, lowest, Anchor::Start, &fitted(&series[index].label));
            }
        }
    }

    /// Answers with the height of the drawing.
    fn at_risk(&self, canvas: &mut Canvas, series: &[Series], days: &[f64], watched: &str) -> f64 {
        let mut y = self.y(0.0) + 3.0 * ROW + 6.0;
        canvas.text(self.left, y, Anchor::Start, watched);
        for one in series {
            y += ROW;
            canvas.strong(self.left - 3.0 * GAP, y, Anchor::End, &fitted(&one.label));
            for (day, count) in days.iter().zip(&one.at_risk) {
                canvas.text(self.x(*day), y, Anchor::Middle, &count.to_string());
            }
        }
        y + GAP
    }
}

/// Survival just after an age; 1 before the first piece.
fn survival_at(pieces: &[Piece], days: f64) -> f64 {
    pieces.iter().rev().find(|piece| piece.from_days <= days).map_or(1.0, |piece| piece.survival)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(from_days: f64, to_days: f64, survival: f64, band: Option<(f64, f64)>) -> Piece {
        Piece { from_days, to_days, survival, band }
    }

    fn two() -> String {
        let caption = Caption { id: "s".to_owned(), title: "Rearing".to_owned(), finding: "80 % at 30 days".to_owned() };
        let cool = Series {
            label: "Cool".to_owned(),
            pieces: vec![piece(0.0, 10.0, 1.0, None), piece(10.0, 40.0, 0.8, Some((0.6, 0.9)))],
            censored_days: vec![20.0],
            at_risk: vec![10, 8, 7, 7, 6],
        };
        let warm = Series { label: "Warm".to_owned(), ..cool.clone() };
        steps(&caption, &[cool, warm], "days since hatch", "Young still watched")
    }

    #[test]
    fn two_curves_differ_by_dash_and_label() {
        let svg = two();
        assert_eq!(svg.matches("stroke-dasharray").count(), 1);
        assert!(svg.matches(">Cool<").count() == 2 && svg.matches(">Warm<").count() == 2, "at the curve and at its numbers");
    }

    #[test]
    fn labels_of_curves_that_end_together_do_not_overlap() {
        let svg = two();
        let y = |label: &str| -> f64 {
            let at = svg.find(&format!("text-anchor=\"start\" font-weight=\"600\">{label}<")).expect("a label at the curve");
            svg[..at].rsplit("y=\"").next().and_then(|rest| rest.split('"').next()?.parse().ok()).expect("its height")
        };
        assert!((y("Cool") - y("Warm")).abs() >= ROW);
    }

    #[test]
    fn ticks_read_well_and_are_few() {
        assert_eq!(ticks(0.0), [0.0, 1.0]);
        assert_eq!(ticks(161.0), [0.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0]);
        assert!(ticks(10_000.0).len() <= 9 && ticks(10_000.0).last() >= Some(&10_000.0));
    }

    #[test]
    fn an_empty_curve_is_an_empty_frame() {
        let svg = steps(&Caption::default(), &[Series::default()], "days", "watched");
        assert!(!svg.contains("<path") && !svg.contains("NaN"));
    }

    #[test]
    fn censored_cases_are_ticks_on_the_curve() {
        let pieces = [piece(0.0, 10.0, 1.0, None), piece(10.0, 40.0, 0.8, None)];
        assert_eq!([survival_at(&pieces, 0.0), survival_at(&pieces, 10.0), survival_at(&pieces, 40.0)], [1.0, 0.8, 0.8]);
    }
}
