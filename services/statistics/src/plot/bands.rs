//! What is known of survival when events lie between two looks: a band, never a line. Where it has
//! no height survival is known.

use super::frame::{Frame, apart};
use super::steps::ticks;
use super::{Anchor, Canvas, Caption, GAP, fitted};

/// How dark the bands are and how their edges are drawn: they differ without colour.
const LOOKS: [(&str, &str); 3] = [("0.3", ""), ("0.15", " stroke-dasharray=\"7 4\""), ("0.05", " stroke-dasharray=\"2 3\"")];

/// A part of the axis on which a band keeps its height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Where it begins, in days.
    pub from_days: f64,
    /// Where it ends, in days; the last piece ends with the axis.
    pub to_days: Option<f64>,
    /// Survival is not below this.
    pub lower: f64,
    /// Nor above this.
    pub upper: f64,
}

/// One band.
#[derive(Debug, Clone, Default)]
pub struct Between {
    /// Its name.
    pub label: String,
    /// Its pieces, in order of age.
    pub pieces: Vec<Known>,
    /// How many are known without the event at the ages of [`ticks`], in order.
    pub known: Vec<u64>,
}

/// The part that has met its event, by age, from stretches `(left, right, mass)`: what lies in a
/// stretch may have happened right after its beginning, or only by its end. Mass beyond the last look
/// has no right end and is in no piece.
#[must_use]
pub fn rising(stretches: &[(f64, Option<f64>, f64)]) -> Vec<Known> {
    let finite: Vec<(f64, f64, f64)> = stretches.iter().filter_map(|(left, right, mass)| Some((*left, (*right)?, *mass))).collect();
    let mut ends: Vec<f64> = finite.iter().flat_map(|(left, right, _)| [*left, *right]).chain([0.0]).collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    let sum = |counts: &dyn Fn(f64, f64) -> bool| -> f64 {
        finite.iter().filter(|(left, right, _)| counts(*left, *right)).map(|(_, _, mass)| mass).sum::<f64>().min(1.0)
    };
    let later = ends.iter().skip(1).map(|end| Some(*end)).chain([None]);
    let piece = |(from_days, to_days): (&f64, Option<f64>)| Known {
        from_days: *from_days,
        to_days,
        lower: sum(&|_, right| right <= *from_days),
        upper: sum(&|left, _| left <= *from_days),
    };
    if finite.is_empty() { Vec::new() } else { ends.iter().zip(later).map(piece).collect() }
}

/// The drawing of these bands over one axis that ends at `longest_days`.
#[must_use]
pub fn bands(caption: &Caption, groups: &[Between], longest_days: f64, axis: &str, watched: &str) -> String {
    let days = ticks(longest_days);
    let last = *days.last().unwrap_or(&1.0);
    let frame = Frame::of_parts(groups.iter().map(|group| group.label.as_str()), groups.len() > 1, last);
    let mut canvas = Canvas::new();
    frame.parts(&mut canvas);
    frame.ages(&mut canvas, &days, axis);
    for (index, group) in groups.iter().enumerate() {
        draw(&mut canvas, frame, group, LOOKS[index % LOOKS.len()]);
    }
    if groups.len() > 1 {
        let middle = |group: &Between| group.pieces.last().map_or(1.0, |piece| (piece.lower + piece.upper) / 2.0);
        let wanted: Vec<f64> = groups.iter().map(|group| frame.y(middle(group)) + 4.0).collect();
        for (group, y) in groups.iter().zip(apart(&wanted, frame.y(0.0) + 4.0)) {
            canvas.strong(frame.right + GAP, y, Anchor::Start, &fitted(&group.label));
        }
    }
    let rows = groups.iter().map(|group| (group.label.as_str(), group.known.as_slice()));
    let height = frame.at_risk(&mut canvas, rows, &days, watched);
    canvas.finish(caption, height)
}

fn draw(canvas: &mut Canvas, frame: Frame, group: &Between, (ink, dash): (&str, &str)) {
    let edge = |value: fn(&Known) -> f64| -> Vec<(f64, f64)> {
        let ends = |piece: &Known| {
            let y = frame.y(value(piece));
            [(frame.x(piece.from_days), y), (frame.x(piece.to_days.unwrap_or(frame.to)), y)]
        };
        group.pieces.iter().flat_map(ends).collect()
    };
    let (upper, lower) = (edge(|piece| piece.upper), edge(|piece| piece.lower));
    if upper.is_empty() {
        return;
    }
    let outline: Vec<(f64, f64)> = upper.iter().chain(lower.iter().rev()).copied().collect();
    canvas.path(&outline, true, &format!("fill=\"currentColor\" fill-opacity=\"{ink}\""));
    for line in [upper, lower] {
        canvas.path(&line, false, &format!("fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"{dash}"));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_band_has_two_edges_and_no_line_between() {
        let known = |from_days, to_days, lower, upper| Known { from_days, to_days, lower, upper };
        let pieces = vec![known(0.0, Some(7.0), 1.0, 1.0), known(7.0, Some(14.0), 0.5, 1.0), known(14.0, None, 0.5, 0.5)];
        let group = Between { label: "eggs".to_owned(), pieces, known: vec![4, 2, 2] };
        let svg = bands(&Caption::default(), &[group], 20.0, "days", "Known alive");
        assert_eq!(svg.matches("<path").count(), 3, "the band and its two edges");
        assert!(svg.contains(">Known alive<") && !svg.contains("NaN"));
    }

    /// 0.2 dies in (7, 14], 0.1 on day 20 exactly, 0.7 beyond the last look.
    #[test]
    fn a_part_rises_somewhere_in_its_stretch() {
        let found = rising(&[(7.0, Some(14.0), 0.2), (20.0, Some(20.0), 0.1), (28.0, None, 0.7)]);
        let told: Vec<(f64, f64, f64)> = found.iter().map(|piece| (piece.from_days, piece.lower, piece.upper)).collect();
        let exact = 0.2 + 0.1;
        assert_eq!(told, [(0.0, 0.0, 0.0), (7.0, 0.0, 0.2), (14.0, 0.2, 0.2), (20.0, exact, exact)]);
        assert_eq!(found.last().map(|piece| piece.to_days), Some(None));
        assert_eq!(rising(&[]), []);
    }

    #[test]
    fn nothing_is_an_empty_frame() {
        assert!(!bands(&Caption::default(), &[Between::default()], 0.0, "days", "Known").contains("<path"));
    }
}
