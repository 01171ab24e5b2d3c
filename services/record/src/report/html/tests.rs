//! The page of an invented season.

use super::*;
use crate::report::annual::{Identity, Material, compile};
use crate::report::invented::{died, egg, identity, lost, material, season, young};

fn page_of(material: &Material) -> String {
    page_under(&identity(), material)
}

fn page_under(identity: &Identity, material: &Material) -> String {
    html(&compile(identity, material).expect("a report"))
}

/// Reads the markup as XML: every tag closed in its order, every attribute quoted, every `&` an entity.
fn is_well_formed(markup: &str) -> Result<(), String> {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = markup.strip_prefix("<!DOCTYPE html>").ok_or("no doctype")?;
    while let Some(at) = rest.find('<') {
        text_is_clean(&rest[..at])?;
        let end = rest[at..].find('>').ok_or("a tag without end")? + at;
        let tag = &rest[at + 1..end];
        let name = tag.trim_start_matches('/').split([' ', '/', '\n']).next().unwrap_or_default();
        if let Some(closed) = tag.strip_prefix('/') {
            let opened = open.pop().ok_or_else(|| format!("</{closed}> closes nothing"))?;
            if opened != closed {
                return Err(format!("</{closed}> closes <{opened}>"));
            }
        } else {
            attributes_are_quoted(&tag[name.len()..])?;
            if !tag.ends_with('/') {
                open.push(name);
            }
        }
        rest = &rest[end + 1..];
        if name == "style" && !tag.starts_with('/') {
            rest = &rest[rest.find("</style>").ok_or("a style without end")?..];
        }
    }
    if open.is_empty() { Ok(()) } else { Err(format!("not closed: {open:?}")) }
}

fn text_is_clean(text: &str) -> Result<(), String> {
    for part in text.split('&').skip(1) {
        if !["amp;", "lt;", "gt;", "quot;", "#39;"].iter().any(|entity| part.starts_with(entity)) {
            return Err(format!("a bare & before {part:.20}"));
        }
    }
    if text.contains('>') { Err(format!("a bare > in {text:.40}")) } else { Ok(()) }
}

fn attributes_are_quoted(attributes: &str) -> Result<(), String> {
    let outside: String = attributes.split('"').step_by(2).collect();
    if attributes.matches('"').count() % 2 == 1 {
        Err(format!("an odd quote in {attributes}"))
    } else if outside.contains('<') || outside.split('=').count() != attributes.matches("=\"").count() + 1 {
        Err(format!("unquoted: {attributes}"))
    } else {
        Ok(())
    }
}

#[test]
fn the_check_itself_can_fail() {
    for bad in ["<!DOCTYPE html><p>a", "<!DOCTYPE html><p>a</b>", "<!DOCTYPE html><p>a & b</p>", "<!DOCTYPE html><p id=x>a</p>"] {
        assert!(is_well_formed(bad).is_err(), "{bad}");
    }
}

#[test]
fn the_page_is_well_formed_and_loads_nothing() {
    let page = page_of(&season("2025-12-31"));
    assert_eq!(is_well_formed(&page), Ok(()));
    for never in ["<script", "src=", "href=\"http", "url(", "@import", "<link", "<img"] {
        assert!(!page.contains(never), "{never}");
    }
}

#[test]
fn ids_are_used_once() {
    let page = page_of(&season("2025-12-31"));
    let mut ids: Vec<&str> = page.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all);
    for target in page.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert!(ids.contains(&target), "{target} is linked but not there");
    }
}

#[test]
fn what_people_wrote_is_escaped() {
    let mut hostile = season("2025-12-31");
    let mut who = identity();
    who.collection.name = "<script>alert(1)</script> & \"Sons\"<!--contents-->".to_owned();
    hostile.species[0].scientific_name = "Chilo<b>scyllium".to_owned();
    let page = page_under(&who, &hostile);
    assert_eq!(is_well_formed(&page), Ok(()));
    assert!(page.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;Sons&quot;") && !page.contains("<b>scyllium"));
    assert_eq!(page.matches("<nav").count(), 1);
}

#[test]
fn an_invented_season_says_so_and_a_real_one_does_not() {
    let found = season("2025-12-31");
    assert!(page_of(&found).contains("Invented season, simulated clock"));
    assert!(!page_under(&Identity { simulated_clock: false, ..identity() }, &found).contains("Invented season"));
}

#[test]
fn complete_is_said_only_when_it_is_true() {
    assert!(page_of(&season("2025-12-31")).contains("Complete: every line"));
    let middle = page_of(&season("2025-06-30"));
    assert!(middle.contains("Preliminary: the year is told only up to 2025-06-30.") && !middle.to_lowercase().contains("complete:"));
    let animal = died(young(1, "2025-01-10", "2025-01-10"), "2024-12-30");
    let failing = page_of(&material(2025, "2025-12-31", &[], &[animal]));
    assert_eq!(is_well_formed(&failing), Ok(()));
    assert!(!failing.contains("Complete"));
    let (fails, first_figure) = (failing.find("do not add up"), failing.find("In short"));
    assert!(fails.is_some() && fails < first_figure, "the failing line comes before any figure");
    assert!(failing.contains(&ulid::Ulid(1002).to_string()), "and names its notes");
}

#[test]
fn no_rate_stands_without_its_denominator() {
    let page = page_of(&season("2025-12-31"));
    for (x, n, name) in [(12, 23, "collected"), (12, 23, "with yolk"), (12, 23, "in which a living embryo was seen")] {
        assert!(page.contains(&format!("hatched of the cases {name}: {x} of {n}")), "{name}");
    }
    // Every percentage of the headline is followed by its counts.
    let headline = page.split("class=\"heads\"").nth(1).and_then(|rest| rest.split("</ul>").next()).expect("a headline");
    for item in headline.split("<li>").skip(1).filter(|item| item.contains("%</b>")) {
        assert!(item.contains(" of ") || item.contains("deaths among"), "{item}");
    }
}

#[test]
fn the_words_of_the_proof_are_those_of_the_format() {
    let page = page_of(&season("2025-12-31"));
    assert!(page.contains("Every note is as it was signed, in the order it came, and none has been taken away since the checkpoint."));
    assert!(page.contains("It does not show that a note is true, nor that everything that happened was noted."));
}

#[test]
fn an_empty_year_is_a_page_too() {
    let page = page_of(&material(2025, "2025-12-31", &[], &[]));
    assert_eq!(is_well_formed(&page), Ok(()));
    assert!(page.contains("No cases came in 2025.") && !page.contains("NaN"));
}

#[test]
fn every_table_has_a_caption_and_headings_with_scope() {
    let page = page_of(&season("2025-12-31"));
    assert!(page.matches("<table>").count() > 8);
    assert_eq!(page.matches("<table>").count(), page.matches("<caption><strong>").count());
    assert_eq!(page.matches("<th ").count() + page.matches("<th>").count(), page.matches("scope=\"").count());
}

#[test]
#[ignore = "writes pages to look at into the folder named by SAMPLE_DIR"]
fn sample() {
    let folder = std::path::PathBuf::from(std::env::var_os("SAMPLE_DIR").expect("SAMPLE_DIR names a folder"));
    let failing = material(
        2025,
        "2025-12-31",
        &[lost(egg(5, "2025-01-10"), "2024-12-30", "not determined")],
        &[died(young(1, "2025-01-10", "2025-01-10"), "2024-12-30")],
    );
    for (name, material) in [("season", season("2025-12-31")), ("middle", season("2025-06-30")), ("failing", failing)] {
        std::fs::write(folder.join(format!("{name}.html")), page_of(&material)).expect("the folder can be written");
        let json = compile(&identity(), &material).expect("a report").to_bytes().expect("JSON");
        std::fs::write(folder.join(format!("{name}.json")), json).expect("the folder can be written");
    }
}
