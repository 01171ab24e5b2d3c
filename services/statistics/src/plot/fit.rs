//! A fit: what was observed as dots, the line through them, and the interval of a new observation.

use super::frame::{Frame, TOP};
use super::{Anchor, Canvas, Caption, GAP, WIDTH, column};

/// Steps between ticks that read well, times powers of ten.
const STEPS: [f64; 4] = [1.0, 2.0, 5.0, 10.0];
/// About so many steps on an axis.
const STEPS_WANTED: f64 = 6.0;

/// The line at one place, with the interval of a new observation where it has both ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnLine {
    /// The place.
    pub x: f64,
    /// The line there.
    pub y: f64,
    /// Lower and upper limit.
    pub interval: Option<(f64, f64)>,
}

/// The ticks of an axis over this range: round numbers, the first at or below it, the last at or
/// above. There are at least two.
#[must_use]
pub fn round_ticks(from: f64, to: f64) -> Vec<f64> {
    let wanted = ((to - from) / STEPS_WANTED).max(1e-6);
    let scale = libm::pow(10.0, libm::floor(libm::log10(wanted)));
    let step = STEPS.iter().map(|step| step * scale).find(|step| *step >= wanted).unwrap_or(scale);
    let (first, last) = (libm::floor(from / step), libm::ceil(to / step).max(libm::floor(from / step) + 1.0));
    (0..=(last - first) as u32).map(|index| (first + f64::from(index)) * step).collect()
}

/// The drawing of these dots and this line. The row of numbers, named by `counted`, says how many dots
/// lie nearest each tick.
#[must_use]
pub fn fit(caption: &Caption, dots: &[(f64, f64)], line: &[OnLine], axes: (&str, &str), counted: &str) -> String {
    let least = |values: &mut dyn Iterator<Item = f64>| values.fold(f64::INFINITY, f64::min);
    let most = |values: &mut dyn Iterator<Item = f64>| values.fold(f64::NEG_INFINITY, f64::max);
    let (from, to) = (least(&mut dots.iter().map(|dot| dot.0)), most(&mut dots.iter().map(|dot| dot.0)));
    let (from, to) = if from <= to { (from, to) } else { (0.0, 1.0) };
    let highest = most(&mut dots.iter().map(|dot| dot.1).chain(line.iter().filter_map(|on| Some(on.interval?.1))));
    let (ticks, heights) = (round_ticks(from, to), round_ticks(0.0, highest.max(1.0)));
    let labels: Vec<(f64, String)> = heights.iter().map(|height| (*height, super::short(*height))).collect();
    let left = column(labels.iter().map(|(_, label)| label.as_str()).chain([axes.1, counted])) + 4.0 * GAP;
    let ends = |ticks: &[f64]| (ticks.first().copied().unwrap_or(0.0), ticks.last().copied().unwrap_or(1.0));
    let ((from, to), highest) = (ends(&ticks), ends(&heights).1);
    let frame = Frame { left, right: WIDTH - 3.0 * GAP, top: TOP + 2.0 * GAP, from, to, highest };
    let mut canvas = Canvas::new();
    canvas.strong(frame.left - GAP, frame.top - GAP, Anchor::End, axes.1);
    frame.heights(&mut canvas, &labels);
    frame.ages(&mut canvas, &ticks, axes.0);
    draw_line(&mut canvas, frame, line);
    for (x, y) in dots {
        canvas.circle((frame.x(*x), frame.y(*y)), 3.0, "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"");
    }
    let nearest = nearest(dots, &ticks);
    let height = frame.at_risk(&mut canvas, std::iter::once(("", nearest.as_slice())), &ticks, counted);
    canvas.finish(caption, height)
}

fn draw_line(canvas: &mut Canvas, frame: Frame, line: &[OnLine]) {
    for run in line.chunk_by(|a, b| a.interval.is_some() == b.interval.is_some()) {
        let edge = |limit: fn((f64, f64)) -> f64| -> Vec<(f64, f64)> {
            run.iter().filter_map(|on| Some((frame.x(on.x), frame.y(limit(on.interval?))))).collect()
        };
        let (upper, lower) = (edge(|limits| limits.1), edge(|limits| limits.0));
        let outline: Vec<(f64, f64)> = upper.iter().chain(lower.iter().rev()).copied().collect();
        if outline.len() > 2 {
            canvas.path(&outline, true, "fill=\"currentColor\" fill-opacity=\"0.13\"");
            for edge in [upper, lower] {
                canvas.path(&edge, false, "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1\" stroke-dasharray=\"5 4\"");
            }
        }
    }
    let points: Vec<(f64, f64)> = line.iter().map(|on| (frame.x(on.x), frame.y(on.y))).collect();
    if points.len() > 1 {
        canvas.path(&points, false, "fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"");
    }
}

fn nearest(dots: &[(f64, f64)], ticks: &[f64]) -> Vec<u64> {
    let mut counts = vec![0; ticks.len()];
    for (x, _) in dots {
        let distance = |tick: &f64| (tick - x).abs();
        if let Some(place) = (0..ticks.len()).min_by(|a, b| distance(&ticks[*a]).total_cmp(&distance(&ticks[*b]))) {
            counts[place] += 1;
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_cover_the_range() {
        assert_eq!(round_ticks(11.9, 20.3), [10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0]);
        assert_eq!(round_ticks(5.0, 5.0).len(), 2);
        assert_eq!(round_ticks(0.0, 300.0).last(), Some(&300.0));
    }

    #[test]
    fn every_dot_is_drawn_and_counted_once() {
        let dots = [(14.0, 170.0), (16.0, 152.0), (16.4, 150.0), (20.0, 121.0)];
        let line: Vec<OnLine> =
            (14..=20).map(|t| OnLine { x: f64::from(t), y: 300.0 - 9.0 * f64::from(t), interval: Some((100.0, 200.0)) }).collect();
        let svg = fit(&Caption::default(), &dots, &line, ("temperature, °C", "days"), "Eggs");
        assert_eq!((svg.matches("<circle").count(), svg.matches("<path").count()), (4, 4));
        assert_eq!(nearest(&dots, &[14.0, 16.0, 18.0, 20.0]), [1, 2, 0, 1]);
    }

    #[test]
    fn nothing_is_an_empty_frame() {
        assert!(!fit(&Caption::default(), &[], &[], ("a", "b"), "Eggs").contains("NaN"));
    }
}
