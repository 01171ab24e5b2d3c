//! What the drawings over an axis have in common: the frame, its axes, and the rows of numbers below.

use super::{Anchor, Canvas, GAP, WIDTH, column, fitted, short};

/// Height of the inside of a frame.
pub(super) const PLOT_HEIGHT: f64 = 260.0;
/// Space above it.
pub(super) const TOP: f64 = 12.0;
/// Height of a row of text.
pub(super) const ROW: f64 = 20.0;
/// The strokes of axes.
const INK: &str = "stroke=\"currentColor\" stroke-width=\"1\"";
/// Parts of a whole, under their lines.
const PERCENT: [f64; 6] = [0.0, 0.2, 0.4, 0.6, 0.8, 1.0];

/// A frame: from which value to which it goes, and where it stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub left: f64,
    pub right: f64,
    pub top: f64,
    pub from: f64,
    pub to: f64,
    pub highest: f64,
}

impl Frame {
    /// Parts of a whole against age. The labels stand left of the numbers at risk, and right of the
    /// curves when `beside` says so.
    pub fn of_parts<'a>(labels: impl Iterator<Item = &'a str>, beside: bool, last_day: f64) -> Self {
        let labels = column(labels.chain(["100 %"]));
        let right = if beside { WIDTH - labels - GAP } else { WIDTH - 3.0 * GAP };
        Self { left: labels + 4.0 * GAP, right, top: TOP, from: 0.0, to: last_day, highest: 1.0 }
    }

    /// Where a value of the horizontal axis stands.
    pub fn x(&self, value: f64) -> f64 {
        self.left + (self.right - self.left) * ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0)
    }

    /// Where a value of the vertical axis stands.
    pub fn y(&self, value: f64) -> f64 {
        self.top + PLOT_HEIGHT * (1.0 - (value / self.highest).clamp(0.0, 1.0))
    }

    /// The vertical axis in percent.
    pub fn parts(&self, canvas: &mut Canvas) {
        let labels: Vec<(f64, String)> = PERCENT.iter().map(|part| (*part, format!("{:.0} %", part * 100.0))).collect();
        self.heights(canvas, &labels);
    }

    /// The vertical axis with these values.
    pub fn heights(&self, canvas: &mut Canvas, labels: &[(f64, String)]) {
        for (value, label) in labels {
            let y = self.y(*value);
            let ink = if *value == 0.0 { "1" } else { "0.2" };
            canvas.line((self.left, y), (self.right, y), &format!("{INK} stroke-opacity=\"{ink}\""));
            canvas.text(self.left - GAP, y + 4.0, Anchor::End, label);
        }
    }

    /// The horizontal axis.
    pub fn ages(&self, canvas: &mut Canvas, ticks: &[f64], axis: &str) {
        for tick in ticks {
            let (x, y) = (self.x(*tick), self.y(0.0));
            canvas.line((x, y), (x, y + 5.0), INK);
            canvas.text(x, y + ROW, Anchor::Middle, &short(*tick));
        }
        canvas.text((self.left + self.right) / 2.0, self.y(0.0) + 2.0 * ROW, Anchor::Middle, axis);
    }

    /// Rows of numbers under the ticks, each with its label. Answers with the height so far.
    pub fn at_risk<'a>(&self, canvas: &mut Canvas, rows: impl Iterator<Item = (&'a str, &'a [u64])>, ticks: &[f64], watched: &str) -> f64 {
        let mut y = self.y(0.0) + 3.0 * ROW + 6.0;
        canvas.text(self.left, y, Anchor::Start, watched);
        for (label, counts) in rows {
            y += ROW;
            canvas.strong(self.left - 3.0 * GAP, y, Anchor::End, &fitted(label));
            for (tick, count) in ticks.iter().zip(counts) {
                canvas.text(self.x(*tick), y, Anchor::Middle, &count.to_string());
            }
        }
        y + GAP
    }
}

/// Heights at which labels may stand beside each other without touching: each as wanted, or moved
/// down below the one before it, and none below the foot: there they are moved up.
pub(super) fn apart(wanted: &[f64], foot: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    let (mut placed, mut lowest) = (vec![0.0; wanted.len()], f64::NEG_INFINITY);
    for which in &order {
        lowest = wanted[*which].max(lowest + ROW);
        placed[*which] = lowest;
    }
    let mut foot = foot;
    for which in order.into_iter().rev() {
        placed[which] = placed[which].min(foot);
        foot = placed[which] - ROW;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_moved_apart_and_keep_their_order() {
        assert_eq!(apart(&[30.0, 10.0, 35.0], 99.0), [30.0, 10.0, 50.0]);
        assert_eq!(apart(&[30.0, 10.0, 35.0], 40.0), [20.0, 0.0, 40.0]);
        assert_eq!(apart(&[], 99.0), [0.0; 0]);
    }
}
