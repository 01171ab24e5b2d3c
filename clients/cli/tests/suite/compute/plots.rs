//! The drawings: numbers in words, nothing by colour alone, nothing that is no number.

use super::{compute, reference};

/// The drawing of one call.
fn plot(arguments: &[&str], table: &str) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let (path, table) = (folder.path().join("plot.svg"), reference(table));
    let mut arguments = arguments.to_vec();
    arguments.extend(["--plot", path.to_str().expect("text"), table.to_str().expect("text")]);
    assert_eq!(compute(&arguments).code, 0);
    let svg = std::fs::read_to_string(path).expect("a drawing");
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
    assert!(!svg.contains("NaN") && !svg.contains("inf\"") && svg.contains("<title"), "{svg}");
    // Ink only, so that it is the same in black and white.
    let inks = svg.match_indices("fill=\"").chain(svg.match_indices("stroke=\"")).map(|(at, name)| &svg[at + name.len()..]);
    assert!(inks.into_iter().all(|ink| ink.starts_with("none\"") || ink.starts_with("currentColor\"")));
    svg
}

fn described(svg: &str) -> &str {
    svg.split("<desc").nth(1).and_then(|rest| rest.split('>').nth(1)).and_then(|rest| rest.split('<').next()).expect("a description")
}

#[test]
fn survival() {
    let svg = plot(&["survival"], "compute/survival.csv");
    assert_eq!(
        described(&svg),
        "cool: 7 cases, 3 events, survival 51.4 % at 40 days, median not reached; warm: 6 cases, 4 events, survival 33.3 % at 35 days, median 17.5 days."
    );
    assert!(svg.contains(">At risk<") && svg.contains("stroke-dasharray"), "numbers at risk; the second curve is dashed");
}

#[test]
fn incidence_is_stacked() {
    let svg = plot(&["incidence"], "compute/incidence.csv");
    assert!(described(&svg).starts_with("cool: 7 cases; by 40 days cause 1"), "{}", described(&svg));
    assert_eq!((svg.matches(">cause 1<").count(), svg.matches(">none yet<").count(), svg.matches(">At risk<").count()), (2, 2, 2));
}

#[test]
fn an_interval_is_a_band() {
    let svg = plot(&["interval"], "compute/interval.csv");
    assert_eq!(described(&svg), "all: 8 cases, median 14 days.");
    assert!(svg.contains(">Known without the event<"));
}

/// Kinds of events between looks: a band for each, rising; what is open is said in words.
#[test]
fn causes_between_looks_are_bands() {
    let svg = plot(&["interval", "--cause", "cause"], "ic_competing.csv");
    assert!(described(&svg).contains("cause 1") && described(&svg).contains("none yet"), "{}", described(&svg));
    let bands = svg.matches("fill=\"currentColor\" fill-opacity").count();
    assert_eq!(bands, svg.matches(">cause ").count() / 2, "each band is named beside it and in its row of numbers");
    assert!(bands >= 2 && svg.contains(">Known without an event<"), "{bands}");
}

#[test]
fn an_incubation_fit_has_a_dot_for_each_egg() {
    let svg = plot(&["incubation", "fit"], "compute/incubation_fit.csv");
    assert_eq!(svg.matches("<circle").count(), 4);
    assert!(described(&svg).starts_with("4 eggs from 14 to 20 °C; Q10 1."), "{}", described(&svg));
    assert!(svg.contains(">Eggs<"));
}

/// A table that is wrong leaves no drawing behind.
#[test]
fn nothing_is_half_drawn() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("plot.svg");
    super::compute_on(&["survival", "--plot", path.to_str().expect("text")], b"time,event\n3,1\n-1,1\n").fails(1, &["row 2"]);
    assert!(!path.exists());
}
