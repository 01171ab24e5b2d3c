//! Proportions, one a line: a dot with the interval around it, or, while cases are open, the range
//! in which the proportion will end, without a dot.

use super::{Anchor, Canvas, Caption, GAP, WIDTH, column, fitted};

const LINE: f64 = 34.0;
const TICKS: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
/// Half the height of an end mark.
const CAP: f64 = 6.0;

/// What is known of one proportion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Known {
    /// All cases are settled: the estimate and its interval.
    Estimate {
        /// The proportion, 0 to 1.
        estimate: f64,
        /// Lower limit of the interval.
        lower: f64,
        /// Upper limit of the interval.
        upper: f64,
    },
    /// Cases are open: it will end between these two, whatever becomes of them.
    Bounds {
        /// If none of the open ones hatches.
        lower: f64,
        /// If all of them hatch.
        upper: f64,
    },
    /// There is nothing to take a part of.
    Nothing,
}

/// One line of the drawing.
#[derive(Debug, Clone)]
pub struct Dot {
    /// The denominator's name.
    pub label: String,
    /// The numbers behind it, printed beneath the label: "27 of 56".
    pub counts: String,
    /// The proportion.
    pub known: Known,
}

/// The drawing of these proportions on one scale from 0 to 100 %.
#[must_use]
pub fn intervals(caption: &Caption, dots: &[Dot], axis: &str) -> String {
    let mut canvas = Canvas::new();
    let labels = dots.iter().flat_map(|dot| [dot.label.as_str(), dot.counts.as_str()]);
    let (left, right) = (column(labels) + 2.0 * GAP, WIDTH - 4.0 * GAP);
    let x = |part: f64| left + (right - left) * part.clamp(0.0, 1.0);
    let bottom = LINE * dots.len() as f64 + GAP;
    for tick in TICKS {
        canvas.line((x(tick), 0.0), (x(tick), bottom), "stroke=\"currentColor\" stroke-width=\"1\" stroke-opacity=\"0.2\"");
        canvas.text(x(tick), bottom + 16.0, Anchor::Middle, &format!("{:.0} %", tick * 100.0));
    }
    for (index, dot) in dots.iter().enumerate() {
        let middle = LINE * (index as f64 + 0.5) + GAP / 2.0;
        canvas.strong(left - 2.0 * GAP, middle - 2.0, Anchor::End, &fitted(&dot.label));
        canvas.text(left - 2.0 * GAP, middle + 13.0, Anchor::End, &fitted(&dot.counts));
        draw(&mut canvas, dot.known, middle, &x);
    }
    canvas.text((left + right) / 2.0, bottom + 36.0, Anchor::Middle, axis);
    canvas.finish(caption, bottom + 44.0)
}

fn draw(canvas: &mut Canvas, known: Known, y: f64, x: &impl Fn(f64) -> f64) {
    match known {
        Known::Estimate { estimate, lower, upper } => {
            span(canvas, y, (x(lower), x(upper)), "stroke=\"currentColor\" stroke-width=\"2\"");
            canvas.circle((x(estimate), y), 5.0, "fill=\"currentColor\"");
        }
        Known::Bounds { lower, upper } => {
            span(canvas, y, (x(lower), x(upper)), "stroke=\"currentColor\" stroke-width=\"2\" stroke-dasharray=\"5 4\"");
        }
        Known::Nothing => canvas.text(x(0.0) + GAP, y + 4.0, Anchor::Start, "no cases"),
    }
}

fn span(canvas: &mut Canvas, y: f64, (from, to): (f64, f64), style: &str) {
    canvas.line((from, y), (to, y), style);
    for end in [from, to] {
        canvas.line((end, y - CAP), (end, y + CAP), "stroke=\"currentColor\" stroke-width=\"2\"");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draw_one(known: Known) -> String {
        let caption = Caption { id: "r".to_owned(), title: "Rates".to_owned(), finding: "27 of 56".to_owned() };
        let dot = Dot { label: "collected".to_owned(), counts: "27 of 56".to_owned(), known };
        intervals(&caption, &[dot], "hatched")
    }

    #[test]
    fn a_settled_proportion_has_a_dot_and_an_open_one_has_none() {
        let settled = draw_one(Known::Estimate { estimate: 0.5, lower: 0.4, upper: 0.6 });
        assert_eq!(settled.matches("<circle").count(), 1);
        let open = draw_one(Known::Bounds { lower: 0.4, upper: 0.6 });
        assert_eq!(open.matches("<circle").count(), 0);
        assert!(open.contains("stroke-dasharray"), "bounds differ from an interval without colour");
    }

    #[test]
    fn the_dot_lies_where_its_number_says() {
        let svg = draw_one(Known::Estimate { estimate: 0.5, lower: 0.25, upper: 0.75 });
        let at = |name: &str| -> Vec<f64> { svg.split(name).skip(1).filter_map(|rest| rest.split('"').next()?.parse().ok()).collect() };
        let ticks: Vec<f64> = at("<line x1=\"").into_iter().take(5).collect();
        assert!((at("cx=\"")[0] - ticks[2]).abs() < 0.01, "one half lies on the middle tick");
    }

    #[test]
    fn no_cases_are_said_in_words() {
        assert!(draw_one(Known::Nothing).contains("no cases"));
    }
}
