//! The command line: arguments in, an exit code out.
//!
//! * [`args`], [`choices`] and [`subcommands`]: the arguments that are not read from the schemas;
//! * [`console`]: results on stdout, talk on stderr;
//! * [`render`]: answers as text;
//! * [`session`]: what every command has at hand, labels looked up;
//! * [`mod@write`]: one note, from words to a checked receipt;
//! * [`verbs`]: a verb for each daily kind;
//! * [`keys`], [`founding`], [`acts`], [`settle`], [`sending`], [`together`], [`waiting`]: the
//!   other ways to write;
//! * [`read`], [`read_house`], [`forecast`], [`assess`], [`assessment_sheet`], [`history`], [`report`], [`compare`],
//!   [`progress`], [`export`], [`water`], [`trays`]: the ways to read, the files of loggers, and what is printed.

pub mod args;

pub mod choices;

pub mod subcommands;

pub mod console;

pub mod render;

pub mod session;

pub mod write;

pub mod verbs;

pub mod keys;

pub mod founding;

pub mod acts;

pub mod settle;

pub mod sending;

pub mod together;

pub mod waiting;

pub mod read;

pub mod read_house;

pub mod forecast;

pub mod assess;

pub mod assessment_sheet;

pub mod history;

pub mod report;

pub mod compare;

pub mod water;

pub mod trays;

pub mod progress;

pub mod export;

use crate::client::Clock;
use crate::compute::args::ComputeCommand;
use crate::config::{Config, Flags};
use crate::fault::Fault;
use args::{Cli, Command, ConfigCommand, Globals, SendArgs};
use clap::{ArgMatches, CommandFactory as _, FromArgMatches as _};
use console::Console;
use serde_json::{Map, Value, json};
use session::Session;
use std::ffi::OsString;
use write::{Named, any_note};

/// The whole command line, with a verb for each kind.
#[must_use]
pub fn command_line() -> clap::Command {
    Cli::command().subcommands(verbs::commands())
}

/// Runs one call; the exit code. Faults are said on stderr.
pub fn run(arguments: impl IntoIterator<Item = OsString>, environment: crate::config::Environment<'_>, clock: Clock) -> u8 {
    let matches = match command_line().try_get_matches_from(arguments) {
        Ok(matches) => matches,
        Err(error) => {
            let _ = error.print();
            return u8::try_from(error.exit_code()).unwrap_or(2);
        }
    };
    let console = Console { json: matches.get_flag("json") };
    match start(&matches, console, environment, clock) {
        Ok(code) => code,
        Err(fault) => {
            console.say(&format!("selachron: {fault}"));
            if let Fault::Refused(refused) = &fault
                && let Some(remedy) = refused.remedy()
            {
                console.say(&format!("What to do: {remedy}"));
            }
            fault.exit_code()
        }
    }
}

fn start(matches: &ArgMatches, console: Console, environment: crate::config::Environment<'_>, clock: Clock) -> Result<u8, Fault> {
    let usage = |error: clap::Error| Fault::Usage(error.to_string());
    if let Some(("compute", asked)) = matches.subcommand() {
        // It needs no settings, so a settings file that is wrong does not stand in its way.
        console.plain(&crate::compute::run(&ComputeCommand::from_arg_matches(asked).map_err(usage)?)?);
        return Ok(0);
    }
    let globals = Globals::from_arg_matches(matches).map_err(usage)?;
    let session = Session::new(Config::find(&flags(globals), environment)?, console, clock);
    if let Some(("water", asked)) = matches.subcommand()
        && asked.subcommand_name().is_some_and(|name| ["show", "episodes", "import"].contains(&name))
    {
        return water::run(&session, &args::WaterCommand::from_arg_matches(asked).map_err(usage)?);
    }
    if let Some(("round", asked)) = matches.subcommand()
        && asked.subcommand_name() == Some("sheet")
    {
        let args::RoundCommand::Sheet { tray, out, read } = args::RoundCommand::from_arg_matches(asked).map_err(usage)?;
        return trays::print(&session, "/v1/rounds/sheet", vec![("tray", tray)], &out, &read);
    }
    if let Some((noun, matches)) = matches.subcommand()
        && let Some(result) = verbs::run(&session, noun, matches)
    {
        return result;
    }
    run_command(&session, Cli::from_arg_matches(matches).map_err(usage)?.command)
}

fn flags(globals: Globals) -> Flags {
    Flags {
        url: globals.url,
        log_key: globals.log_key,
        key: globals.key,
        ca: globals.ca,
        state_dir: globals.state_dir,
        config: globals.config,
    }
}

fn run_command(session: &Session, command: Command) -> Result<u8, Fault> {
    match command {
        Command::Key(command) => keys::run(session, &command),
        Command::Found { files, root, out } => founding::found(session, &files, &root, out.as_deref()),
        Command::Note { kind, subject, members, data, when, send } => {
            let named = Named { kind: &kind, subject: &subject, members: &members, data: data.as_deref() };
            any_note(session, &named, &when, &send)
        }
        Command::Draft { kind, subject, file, members, data, when, expect } => {
            let named = Named { kind: &kind, subject: &subject, members: &members, data: data.as_deref() };
            any_note(session, &named, &when, &SendArgs { expect, draft: Some(file), ..SendArgs::default() })
        }
        Command::Approve { file, out } => sending::approve(session, &file, out.as_deref()),
        Command::Post { file } => sending::post(session, &file),
        Command::Waiting { what } => waiting::run(session, what.as_ref()),
        Command::Correct { id, reason, set, unset, data, time, after, subject, send } => {
            let right = acts::Right { set: &set, unset: &unset, data: data.as_deref(), time, after, subject };
            acts::correct(session, &id, &reason, &right, &send)
        }
        Command::Retract { id, reason, send } => acts::retract(session, &id, &reason, &send),
        Command::Endorse { id, remark, send } => acts::endorse(session, &id, remark.as_deref(), &send),
        Command::Settle { id, word, person, remark, send } => {
            settle::settle(session, &settle::Word { id: &id, word, person: person.as_deref(), remark: remark.as_deref() }, &send)
        }
        Command::Abandon { count, reason, send } => acts::abandon(session, count, &reason, &send),
        other => run_reading(session, other),
    }
}

fn run_reading(session: &Session, command: Command) -> Result<u8, Fault> {
    match command {
        Command::Due { within_hours, by, ics, read } => read::due(session, within_hours, by.as_deref(), ics.as_deref(), &read),
        Command::Forecast { species: Some(species), read, .. } => forecast::incubation(session, &species, &read),
        Command::Forecast { egg, read, .. } => forecast::forecast(session, egg.as_deref(), &read),
        Command::Tray(command) => trays::run(session, &command),
        Command::Labels { of, tank, out, read } => {
            let asked = [("of", Some(of)), ("tank", tank)].into_iter().filter_map(|(name, value)| Some((name, value?)));
            trays::print(session, "/v1/labels", asked.collect(), &out, &read)
        }
        Command::Show { id, source_codes: true, read } => read::source_codes(session, &id, &read),
        Command::Show { id, read, .. } => read::show(session, &id, &read),
        Command::History { id, diff: Some(sizes), read, .. } => history::difference(session, &id, &sizes, &read),
        Command::History { id, not_yet, read, .. } => history::history(session, &id, not_yet, &read),
        Command::List { what, limit, read } => read::list(session, what, limit, &read),
        Command::Exposure { id, from, to, read } => read_house::exposure(session, &id, from.as_deref(), to.as_deref(), &read),
        Command::Discrepancies { open, read } => read::discrepancies(session, open, &read),
        Command::Figures { what, year, from, to, species, dam, eligible_from_days, within_days, read } => {
            let compared = [("eligible_from_days", eligible_from_days), ("within_days", within_days)];
            read::figures(session, what, &read::Cohort { year, from, to, species, dam, compared }, &read)
        }
        Command::Report { issue: Some(args::ReportCommand::Issue { year, months, out, release, clocks, send }), .. } => {
            let months = report::Months { year, of: &months };
            report::issue(session, &report::Issue { months, release, out: &out }, &clocks, &send)
        }
        Command::Report { verify: Some(file), .. } => compare::verify(session, &file),
        Command::Report { year, months, form, clocks, .. } => {
            let months = report::Months { year: year.unwrap_or_default(), of: &months };
            match &form.cell {
                Some(cell) => report::cell(session, &months, cell, &clocks),
                None => report::read(session, &months, &form, &clocks),
            }
        }
        Command::Export { what, out, format, year, since, target, with_country, read } => {
            let (format, target) = (format.as_deref(), target.as_deref());
            export::export(session, &export::Wanted { what, format, year, since, target, with_country }, &out, &read)
        }
        Command::Bundle { folder } => report::bundle(session, &folder),
        Command::Keep { file } => report::keep(session, &file),
        Command::Trust { vkey } => report::trust(session, &vkey),
        Command::Receipt { id } => report::receipt(session, &id),
        Command::Check => report::check(session),
        Command::Token => read::token(session),
        Command::Refused { limit } => read::refused(session, limit),
        Command::Config(ConfigCommand::Show) => Ok(show_config(session)),
        // Every writing command was taken before.
        _ => Err(Fault::Failed("this command is not known here".to_owned())),
    }
}

fn show_config(session: &Session) -> u8 {
    let settings = session.config.settings();
    let as_json = settings.iter().map(|s| (s.name.to_owned(), json!({"value": s.value, "from": s.source.to_string()})));
    session.console.result(&Value::Object(as_json.collect::<Map<_, _>>()), || {
        let line = |s: &crate::config::Setting| format!("{:<10} {}  (from {})", s.name, s.value.as_deref().unwrap_or("not set"), s.source);
        settings.iter().map(line).collect::<Vec<_>>().join("\n")
    });
    0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_consistent() {
        command_line().debug_assert();
    }

    #[test]
    fn every_kind_of_every_day_has_a_verb() {
        let nouns = verbs::commands();
        let verbs: Vec<String> =
            nouns.iter().flat_map(|noun| noun.get_subcommands().map(|verb| format!("{} {}", noun.get_name(), verb.get_name()))).collect();
        for wanted in [
            "egg collect",
            "egg candle",
            "egg hatch",
            "egg open",
            "egg put-down",
            "clutch form",
            "opening authorise",
            "animal treat",
            "group split",
            "necropsy report",
            "animal feed",
            "water measure",
            "tank search",
            "policy set",
            "species list",
            "tank check",
            "equipment fault",
            "round close",
            "consignment send",
            "quarantine clear",
            "document attach",
        ] {
            assert!(verbs.iter().any(|verb| verb == wanted), "{wanted} is missing");
        }
    }
}
