//! Fates of all cases, stacked: at every age the layers and the white above them add up to all.

use super::frame::{Frame, PLOT_HEIGHT, ROW, apart};
use super::steps::ticks;
use super::{Anchor, Canvas, Caption, GAP, fitted};

/// How dark the layers are, from below: they differ without colour, and each has an edge.
const INKS: [&str; 4] = ["0.7", "0.4", "0.2", "0.08"];
/// How their upper edges are drawn.
const EDGES: [&str; 3] = ["", " stroke-dasharray=\"7 4\"", " stroke-dasharray=\"2 3\""];

/// The fates of one group.
#[derive(Debug, Clone, Default)]
pub struct Stack {
    /// The group, written above its frame.
    pub label: String,
    /// Ages at which something happens, in days, in order.
    pub days: Vec<f64>,
    /// From below: the name of each fate, and the part that has met it just after each age.
    pub layers: Vec<(String, Vec<f64>)>,
    /// How many are at risk at the ages of [`ticks`], in order.
    pub at_risk: Vec<u64>,
}

/// The drawing of these groups, one frame below the other, over one axis. `open` names the white:
/// those without any fate.
#[must_use]
pub fn stacked(caption: &Caption, stacks: &[Stack], axis: &str, watched: &str, open: &str) -> String {
    let longest = stacks.iter().filter_map(|stack| stack.days.last()).fold(0.0, |a: f64, b| a.max(*b));
    let days = ticks(longest);
    let labels = stacks.iter().flat_map(|stack| stack.layers.iter().map(|(label, _)| label.as_str()).chain([stack.label.as_str()]));
    let mut frame = Frame::of_parts(labels.chain([open]), true, *days.last().unwrap_or(&1.0));
    let (mut canvas, mut bottom) = (Canvas::new(), 0.0);
    for stack in stacks {
        frame.top = bottom + ROW + GAP;
        canvas.strong(frame.left, frame.top - GAP, Anchor::Start, &fitted(&stack.label));
        draw(&mut canvas, frame, stack, open);
        frame.parts(&mut canvas);
        frame.ages(&mut canvas, &days, axis);
        bottom = frame.at_risk(&mut canvas, std::iter::once((stack.label.as_str(), stack.at_risk.as_slice())), &days, watched);
    }
    canvas.finish(caption, bottom.max(PLOT_HEIGHT))
}

fn draw(canvas: &mut Canvas, frame: Frame, stack: &Stack, open: &str) {
    let mut below = vec![0.0; stack.days.len()];
    let (mut names, mut wanted) = (Vec::new(), Vec::new());
    for (index, (label, part)) in stack.layers.iter().enumerate() {
        let above: Vec<f64> = below.iter().zip(part).map(|(sum, part)| sum + part).collect();
        let (lower, upper) = (edge(frame, &stack.days, &below), edge(frame, &stack.days, &above));
        let outline: Vec<(f64, f64)> = upper.iter().copied().chain(lower.into_iter().rev()).collect();
        canvas.path(&outline, true, &format!("fill=\"currentColor\" fill-opacity=\"{}\"", INKS[index % INKS.len()]));
        canvas.path(&upper, false, &format!("fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"{}", EDGES[index % EDGES.len()]));
        let last = |parts: &[f64]| parts.last().copied().unwrap_or(0.0);
        names.push(label.as_str());
        wanted.push(frame.y((last(&below) + last(&above)) / 2.0) + 4.0);
        below = above;
    }
    names.push(open);
    wanted.push(frame.y((below.last().copied().unwrap_or(0.0) + 1.0) / 2.0) + 4.0);
    for (name, y) in names.into_iter().zip(apart(&wanted, frame.y(0.0) + 4.0)) {
        canvas.text(frame.right + GAP, y, Anchor::Start, &fitted(name));
    }
}

/// The steps of a cumulative part, from age 0 to the end of the axis.
fn edge(frame: Frame, days: &[f64], parts: &[f64]) -> Vec<(f64, f64)> {
    let (mut points, mut height) = (vec![(frame.x(0.0), frame.y(0.0))], 0.0);
    for (day, part) in days.iter().zip(parts) {
        points.extend([(frame.x(*day), frame.y(height)), (frame.x(*day), frame.y(*part))]);
        height = *part;
    }
    // What is known ends with the last age.
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two_fates() -> Stack {
        let layers = vec![("hatched".to_owned(), vec![0.0, 0.6]), ("died".to_owned(), vec![0.25, 0.25])];
        Stack { label: "Cool".to_owned(), days: vec![10.0, 40.0], layers, at_risk: vec![8, 8, 6] }
    }

    #[test]
    fn layers_stand_on_each_other_and_are_named() {
        let svg = stacked(&Caption::default(), &[two_fates()], "days since laid", "At risk", "open");
        assert_eq!(svg.matches("fill-opacity=\"0.7\"").count(), 1);
        for name in [">hatched<", ">died<", ">open<", ">Cool<", ">At risk<"] {
            assert!(svg.contains(name), "{name}");
        }
        let frame = Frame::of_parts(["hatched", "died", "Cool", "open"].into_iter(), true, 40.0);
        let top = edge(Frame { top: ROW + GAP, ..frame }, &[10.0, 40.0], &[0.25, 0.85]);
        assert!(
            svg.contains(&format!("{} {}", super::super::short(top[4].0), super::super::short(top[4].1))),
            "the upper edge ends at 85 %"
        );
    }

    #[test]
    fn groups_stand_below_each_other() {
        let warm = Stack { label: "Warm".to_owned(), ..two_fates() };
        let svg = stacked(&Caption::default(), &[two_fates(), warm], "days", "At risk", "open");
        let heights: Vec<f64> = svg
            .match_indices("font-weight=\"600\"")
            .filter_map(|(at, _)| svg[..at].rsplit("y=\"").next()?.split('"').next()?.parse().ok())
            .collect();
        assert!(heights.windows(2).all(|pair| pair[0] < pair[1]), "{heights:?}");
    }

    #[test]
    fn nothing_is_an_empty_frame() {
        let svg = stacked(&Caption::default(), &[Stack::default()], "days", "At risk", "open");
        assert!(!svg.contains("NaN"));
    }
}
