//! Separating cases, round sheets and labels. Nothing is moved by reading: each move that a person
//! made is noted by accepting it.

use super::args::{ReadArgs, TrayCommand};
use super::read::{Query, ask, clocks, foot, names};
use super::render::{self, Column};
use super::session::Session;
use crate::draft::Draft;
use crate::fault::Fault;
use crate::files;
use selachron_schemas::cautions::cautions;
use serde_json::{Value, json};
use std::path::Path;

const MOVES: [Column; 4] = [("case", &["/label"]), ("from", &["/from_tank"]), ("to", &["/to_label"]), ("why", &["/reason"])];

/// Shows or accepts a proposal.
///
/// # Errors
/// Of the reading or sending.
pub fn run(session: &Session, command: &TrayCommand) -> Result<u8, Fault> {
    match command {
        TrayCommand::Propose { read } => propose(session, read),
        TrayCommand::Accept { eggs, all } => accept(session, eggs, *all),
    }
}

fn moves(answer: &Value) -> Vec<Value> {
    answer.pointer("/item/moves").and_then(Value::as_array).cloned().unwrap_or_default()
}

fn propose(session: &Session, read: &ReadArgs) -> Result<u8, Fault> {
    let query = clocks(session, read)?;
    let answer = ask(session, "/v1/trays/proposal", &query)?;
    let (zone, names) = (session.zone()?, names(session, &query)?);
    session.console.result(&answer, || match moves(&render::with_names(&answer, &names)) {
        moves if moves.is_empty() => "nothing needs to be moved".to_owned(),
        moves => render::table(&MOVES, &moves, zone),
    });
    for left in answer.pointer("/item/left").and_then(Value::as_array).into_iter().flatten() {
        session.console.say(&format!("{}: {}", render::words(&left["label"], zone), render::words(&left["reason"], zone)));
    }
    foot(session, &answer);
    Ok(0)
}

/// Notes each move that was made, in the order of the proposal, one note each.
fn accept(session: &Session, eggs: &[String], every: bool) -> Result<u8, Fault> {
    let proposed = moves(&ask(session, "/v1/trays/proposal", &Query::new())?);
    let text = |step: &Value, name: &str| step[name].as_str().unwrap_or_default().to_owned();
    let named = |step: &Value| eggs.iter().any(|egg| *egg == text(step, "label") || *egg == text(step, "egg"));
    for egg in eggs {
        if !proposed.iter().any(|step| *egg == text(step, "label") || *egg == text(step, "egg")) {
            return Err(Fault::NoSuchThing(format!("the proposal moves no case {egg:?}; see `selachron tray propose`")));
        }
    }
    let kept: Vec<&Value> = proposed.iter().filter(|step| every || named(step)).collect();
    if let (Some(caution), false) = (cautions("egg.moved.v1"), kept.is_empty()) {
        session.console.say(caution);
    }
    let (author, client) = (session.identity()?, session.client()?);
    for step in kept {
        let remark = format!("As proposed: {}", text(step, "reason"));
        let data = json!({"to_tank": step["to_tank"], "from_tank": step["from_tank"], "place": step["to_place"], "remark": remark});
        let egg = session.find(&text(step, "egg"), &["egg"])?;
        let recorded = client.record(&author, &Draft::new("egg.moved.v1", egg, data), &[])?;
        let line = format!("recorded: {} to {} as seq {}", text(step, "label"), text(step, "to_label"), recorded.seq);
        session
            .console
            .result(&json!({"status": "recorded", "id": recorded.id, "seq": recorded.seq, "subject": recorded.subject}), || line);
    }
    Ok(0)
}

/// Writes a page that prints into a file.
///
/// # Errors
/// Of the reading, or the file exists.
pub fn print(session: &Session, path: &str, asked: Query, out: &Path, read: &ReadArgs) -> Result<u8, Fault> {
    let mut query = clocks(session, read)?;
    query.extend(asked);
    query.push(("format", "html".to_owned()));
    let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let page = session.client()?.get_text(path, &query, "text/html")?;
    files::write_new(out, page.as_bytes())?;
    session.console.say(&format!("to be printed: {}", out.display()));
    Ok(0)
}
