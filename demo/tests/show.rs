//! The demo from end to end: the whole season over HTTP, the bundle, the verifier, what is said.

use selachron_demo::arguments::Arguments;
use selachron_demo::season::{Season, USUAL_SEED};
use selachron_demo::show::{Folders, Show};

#[test]
fn the_whole_season_is_played_told_and_verified() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let out = place.path().join("out");
    let arguments = Arguments { dir: None, once: true, out: Some(out.clone()), port: 0, seed: USUAL_SEED };
    let folders = Folders::make(&arguments).expect("folders");
    let season = Season::from_seed(arguments.seed);
    let listen = "127.0.0.1:0".parse().expect("an address");
    // `put_on` answers only if every receipt held and the verifier found the bundle sound.
    let show = Show::put_on(&season, &folders.folder, folders.bundle.clone(), listen).expect("it plays");
    let lines = show.lines().expect("it tells");
    let told = lines.join("\n");
    assert!(lines.len() + show.where_to_look().len() <= 64, "{} lines", lines.len());
    assert!(lines[0].starts_with("Invented season, simulated clock."), "{}", lines[0]);
    for wanted in [
        format!("{} receipts checked", season.sent()),
        "collected  ".to_owned(),
        "with yolk  ".to_owned(),
        "embryo seen  ".to_owned(),
        "taken into the nursery  ".to_owned(),
        "365 days  ".to_owned(),
        format!("One animal on two clocks: {}", season.story.label),
        "(first written: measured: ".to_owned(),
        "opened without a second person".to_owned(),
        "It shows: every note is as it was signed, in the order it came".to_owned(),
    ] {
        assert!(told.contains(&wanted), "{wanted:?} is not told:\n{told}");
    }
    // As issued: the service gives the very bytes again that the curator signed for.
    show.write_report(&out).expect("the report");
    let page = std::fs::read_to_string(out.join("annual-report.html")).expect("the page");
    assert!(page.contains("simulated clock"), "the page says what it is");
    assert!(out.join("bundle/envelopes.ndjson").exists() && out.join("annual-report.json").exists());
}
