//! When cases may hatch: all that are incubating, one, or what is known of a species.

use super::args::ReadArgs;
use super::read::{all, ask, clocks, foot, names, show_items};
use super::render::{self, Column};
use super::session::Session;
use crate::fault::Fault;
use crate::transport::path_part;

/// Said under every window, on stderr.
const WINDOW: &str = "A window with probabilities, never a date: 5 % of cases are expected before it and 5 % after it. \
     A case past its window is first looked at again and left: most late young come by themselves (common practice, no source).";

const FORECAST: [Column; 10] = [
    ("label", &["/label"]),
    ("standing", &["/standing"]),
    ("5 %", &["/window/p05"]),
    ("50 %", &["/window/p50"]),
    ("95 %", &["/window/p95"]),
    ("developed", &["/fraction/p50"]),
    ("grade", &["/rate/grade"]),
    ("tank", &["/tank"]),
    ("why not", &["/no_forecast/says"]),
    ("mind", &["/flags"]),
];

/// Windows of all cases that are incubating, or of one.
///
/// # Errors
/// No such case, or of the reading.
pub fn forecast(session: &Session, egg: Option<&str>, read: &ReadArgs) -> Result<u8, Fault> {
    let query = clocks(session, read)?;
    let Some(egg) = egg else {
        let mut answer = all(session, "/v1/forecast", query.clone(), None)?;
        if !session.console.json {
            short_flags(&mut answer);
        }
        let answer = render::with_names(&answer, &names(session, &query)?);
        let code = show_items(session, &answer, &FORECAST, "no case is incubating")?;
        session.console.say(WINDOW);
        return Ok(code);
    };
    let egg = session.find(egg, &["egg"])?;
    let answer = ask(session, &format!("/v1/eggs/{}/forecast", path_part(egg.id())), &query)?;
    shown(session, &answer, &query)?;
    session.console.say(WINDOW);
    Ok(0)
}

/// What is known of how long a species' cases take.
///
/// # Errors
/// No such species, or of the reading.
pub fn incubation(session: &Session, species: &str, read: &ReadArgs) -> Result<u8, Fault> {
    let query = clocks(session, read)?;
    let species = session.find(species, &["species"])?;
    let answer = ask(session, &format!("/v1/species/{}/incubation", path_part(species.id())), &query)?;
    shown(session, &answer, &query)?;
    Ok(0)
}

/// One item as indented lines, with names in place of ids.
pub(super) fn shown(session: &Session, answer: &serde_json::Value, query: &super::read::Query) -> Result<(), Fault> {
    let (zone, names) = (session.zone()?, names(session, query)?);
    session.console.result(answer, || render::item(&render::with_names(answer.get("item").unwrap_or(answer), &names), zone));
    foot(session, answer);
    Ok(())
}

/// In a table only the words of the flags; the sentences stand with the one case.
fn short_flags(answer: &mut serde_json::Value) {
    let items = answer.get_mut("items").and_then(serde_json::Value::as_array_mut);
    for flags in items.into_iter().flatten().filter_map(|item| item.get_mut("flags")?.as_array_mut()) {
        flags.iter_mut().for_each(|flag| *flag = flag.get("flag").cloned().unwrap_or_default());
    }
}
