//! `selachron-verify`: checks a bundle off line. Exit status: see `--help`.

use clap::Parser as _;
use selachron_verify::arguments::{Arguments, exit};
use selachron_verify::folder::Unreadable;
use selachron_verify::words::{json, status, text};
use std::io::Write as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let trust = match arguments.trust() {
        Ok(trust) => trust,
        Err(misused) => return complain(&misused, misused.status()),
    };
    let audit = match selachron_verify::bundle(&arguments.bundle, &trust) {
        Ok(audit) => audit,
        Err(unreadable @ Unreadable::NoFolder(_)) => return complain(&unreadable, exit::NO_SUCH_THING),
        Err(unreadable) => return complain(&unreadable, exit::NO_ANSWER),
    };
    let answer = if arguments.json { json(&audit) } else { text(&audit) };
    // A reader that closes early has what it wants; the exit status tells the rest.
    let _ = std::io::stdout().write_all(answer.as_bytes());
    ExitCode::from(status(&audit, arguments.self_consistent))
}

fn complain(what: &dyn std::fmt::Display, status: u8) -> ExitCode {
    eprintln!("selachron-verify: {what}");
    ExitCode::from(status)
}
