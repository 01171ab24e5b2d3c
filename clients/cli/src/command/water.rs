//! The water: what was read, when it was outside its band, and the files of loggers.

use super::args::{ReadArgs, WaterCommand};
use super::forecast::shown;
use super::read::{Query, all, ask, clocks, moment, names, show_items};
use super::render::{self, Column};
use super::session::Session;
use crate::answer::Outcome;
use crate::draft::Draft;
use crate::fault::Fault;
use crate::files;
use crate::logger::{LoggerFile, LoggerRow, LoggerSettings, refuse};
use crate::transport::path_part;
use selachron_schemas::encoding::hex;
use selachron_schemas::event::Event;
use selachron_schemas::limits::{COMPUTE_LISTED_MAX, LOGGER_ASK_DAYS, LOGGER_NAME_CHARS_MAX, LOGGER_SEND_MAX};
use selachron_schemas::merkle::sha256;
use selachron_schemas::names::Subject;
use selachron_schemas::time::{DAY_MS, Instant};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::path::Path;

const EPISODES: [Column; 11] = [
    ("stands", &["/state"]),
    ("water", &["/label"]),
    ("outside", &["/quantity"]),
    ("from", &["/start/time"]),
    ("to", &["/end/time"]),
    ("peak", &["/peak/value"]),
    ("by", &["/instrument"]),
    ("eggs", &["/eggs"]),
    ("animals", &["/animals"]),
    ("groups", &["/groups"]),
    ("band", &["/band/basis"]),
];

/// Readings, episodes, or a logger's file.
///
/// # Errors
/// Of the reading or sending; or what is wrong with the file, and then nothing was sent.
pub fn run(session: &Session, command: &WaterCommand) -> Result<u8, Fault> {
    match command {
        WaterCommand::Show { id, from, to, svg, read } => show(session, id, [from.as_deref(), to.as_deref()], svg.as_deref(), read),
        WaterCommand::Episodes { open, read } => episodes(session, *open, read),
        WaterCommand::Import { file, settings } => import(session, file, settings),
    }
}

fn path(water: &Subject) -> String {
    format!("/v1/{}s/{}/water", water.noun(), path_part(water.id()))
}

fn show(session: &Session, id: &str, between: [Option<&str>; 2], svg: Option<&Path>, read: &ReadArgs) -> Result<u8, Fault> {
    let mut query = clocks(session, read)?;
    for ((name, flag), text) in [("from", "--from"), ("to", "--to")].into_iter().zip(between) {
        if let Some(text) = text {
            query.push((name, moment(session, flag, text)?));
        }
    }
    let water = session.find(id, &["system", "tank"])?;
    let Some(file) = svg else {
        let known: Query = query.iter().filter(|(name, _)| !["from", "to"].contains(name)).cloned().collect();
        shown(session, &ask(session, &path(&water), &query)?, &known)?;
        return Ok(0);
    };
    query.push(("format", "svg".to_owned()));
    let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let drawn = session.client()?.get_text(&path(&water), &query, "image/svg+xml")?;
    files::write_new(file, drawn.as_bytes())?;
    session.console.say(&format!("the drawing is in {}", file.display()));
    Ok(0)
}

fn episodes(session: &Session, open: bool, read: &ReadArgs) -> Result<u8, Fault> {
    let mut query = clocks(session, read)?;
    let known = query.clone();
    query.extend(open.then(|| ("open", "true".to_owned())));
    let answer = all(session, "/v1/water/episodes", query, None)?;
    let names = names(session, &known)?;
    show_items(session, &render::with_names(&answer, &names), &EPISODES, "no water was outside its band")
}

/// A logger's file before it is sent.
struct Import<'a> {
    session: &'a Session,
    settings: LoggerSettings,
    water: Subject,
    since: Option<Instant>,
    reason: String,
    name: String,
}

/// What stands at a moment by that instrument at that point already.
type Standing = BTreeMap<i64, Map<String, Value>>;

fn import(session: &Session, file: &Path, settings_file: &Path) -> Result<u8, Fault> {
    let read = |path: &Path| files::read_text(path)?.ok_or_else(|| Fault::NoSuchThing(format!("there is no file {}", path.display())));
    let settings = LoggerSettings::read(&read(settings_file)?, &settings_file.display().to_string())?;
    let text = read(file)?;
    let name: String = file.file_name().and_then(|name| name.to_str()).unwrap_or("a file").chars().take(LOGGER_NAME_CHARS_MAX).collect();
    let reason = format!("read out of the logger's file {name}, SHA-256 {}", hex(&sha256(text.as_bytes())));
    let found = settings.rows(&text)?;
    let (water, since) = the_water(session, &settings, found.rows.first())?;
    Import { session, settings, water, since, reason, name }.send(&found)
}

/// The water that the settings name and since when it exists, by a path that the key of an instrument
/// reads as well.
fn the_water(session: &Session, settings: &LoggerSettings, first: Option<&LoggerRow>) -> Result<(Subject, Option<Instant>), Fault> {
    let (noun, name) = match (&settings.system, &settings.tank) {
        (Some(system), _) => ("system", system.as_str()),
        (_, tank) => ("tank", tank.as_deref().unwrap_or_default()),
    };
    let name = Subject::parse(name).filter(|subject| subject.noun() == noun).map_or(name.to_owned(), |subject| subject.id().to_owned());
    let at = first.map_or(session.now(), |row| row.time).utc_text();
    let answer = ask(session, &format!("/v1/{noun}s/{}/water", path_part(&name)), &vec![("from", at.clone()), ("to", at)])?;
    let text = |pointer: &str| answer.pointer(pointer).and_then(Value::as_str);
    let water = text("/item/water").and_then(Subject::parse);
    let water = water.ok_or_else(|| Fault::Failed(format!("the service's answer names no {noun}")))?;
    Ok((water, text("/item/since").and_then(|text| Instant::parse(text).ok())))
}

impl Import<'_> {
    fn send(&self, found: &LoggerFile) -> Result<u8, Fault> {
        found.told.iter().for_each(|told| self.session.console.say(told));
        self.of_its_time(&found.rows)?;
        let standing = self.standing(&found.rows)?;
        let (mut fresh, mut known, mut other) = (Vec::new(), 0_u64, Vec::new());
        for row in &found.rows {
            match standing.get(&row.time.0) {
                None => fresh.push(row),
                Some(values) if alike(values, &row.members) => known += 1,
                Some(_) => other.push(format!("row {}: another reading stands at {}; it was not sent", row.row, row.time.utc_text())),
            }
        }
        other.iter().take(COMPUTE_LISTED_MAX).for_each(|told| self.session.console.say(told));
        let drafts: Vec<Draft> = fresh.iter().map(|row| self.draft(row)).collect();
        let (author, client) = (self.session.identity()?, self.session.client()?);
        let origin = client.origin()?;
        let wrong = fresh.iter().zip(&drafts).filter_map(|(row, draft)| {
            let fault = draft.check(&author, &origin, client.now()).err()?;
            Some(format!("row {}: {fault}", row.row))
        });
        refuse(&wrong.collect::<Vec<_>>())?;
        let mut code = 0;
        let mut recorded = 0_u64;
        for part in drafts.chunks(LOGGER_SEND_MAX) {
            let outcomes = client.record_all(&author, part, &[])?;
            recorded += outcomes.iter().filter(|outcome| matches!(outcome, Outcome::Recorded(_))).count() as u64;
            let failed: Vec<Outcome> = outcomes.into_iter().filter(|outcome| !matches!(outcome, Outcome::Recorded(_))).collect();
            if !failed.is_empty() {
                code = super::write::tell(self.session, &failed);
                break;
            }
        }
        self.tell(recorded, known, other.len());
        Ok(code)
    }

    fn tell(&self, recorded: u64, known: u64, other: usize) {
        let json = json!({"recorded": recorded, "known_already": known, "another_stands": other, "file": self.name});
        self.session.console.result(&json, || {
            format!("{recorded} readings recorded, {known} were known already, {other} not sent because another stands there")
        });
    }

    fn draft(&self, row: &LoggerRow) -> Draft {
        let mut data = row.members.clone();
        data.insert("instrument".to_owned(), json!(self.settings.instrument));
        self.settings.point.as_ref().map(|point| data.insert("point".to_owned(), json!(point)));
        let thin = self.settings.thin_minutes.map_or(String::new(), |least| format!("; thinned to one reading in {least} minutes"));
        data.insert("remark".to_owned(), json!(format!("Row {} of {}{thin}.", row.row, self.name)));
        Draft::new("water.measured.v1", self.water.clone(), Value::Object(data)).time(row.time).late(&self.reason)
    }

    /// A reading from before the water existed, or from the time to come, is no reading of it.
    fn of_its_time(&self, rows: &[LoggerRow]) -> Result<(), Fault> {
        let now = self.session.now();
        let wrong = rows.iter().filter_map(|row| match self.since {
            Some(since) if row.time < since => Some(format!(
                "row {}: {} lies before the {} was set up on {}",
                row.row,
                row.time.utc_text(),
                self.water.noun(),
                since.utc_text()
            )),
            _ if row.time > now => Some(format!("row {}: {} is still to come; look at the logger's clock", row.row, row.time.utc_text())),
            _ => None,
        });
        refuse(&wrong.collect::<Vec<_>>())
    }

    /// What the record has, and what waits on this device.
    fn standing(&self, rows: &[LoggerRow]) -> Result<Standing, Fault> {
        let mut standing = Standing::new();
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return Ok(standing) };
        let mut from = first.time;
        while from <= last.time {
            let to = from.plus_ms(LOGGER_ASK_DAYS * DAY_MS).min(last.time);
            let query = vec![("from", from.utc_text()), ("to", to.utc_text())];
            let answer = ask(self.session, &path(&self.water), &query)?;
            let readings = answer.pointer("/item/readings").and_then(Value::as_array).into_iter().flatten();
            readings.filter_map(Value::as_object).for_each(|reading| self.stands(reading.get("time"), reading, &mut standing));
            from = to.plus_ms(1);
        }
        for note in self.session.identity()?.waiting()? {
            let event = Event::parse(&note.body)?;
            if event.kind == "water.measured.v1" && event.subject == self.water {
                self.stands(Some(&json!(event.time)), &event.data, &mut standing);
            }
        }
        Ok(standing)
    }

    fn stands(&self, time: Option<&Value>, reading: &Map<String, Value>, standing: &mut Standing) {
        let says = |name: &str| reading.get(name).and_then(Value::as_str);
        let own = says("instrument") == Some(self.settings.instrument.as_str()) && says("point") == self.settings.point.as_deref();
        let time = time.and_then(Value::as_str).and_then(|text| Instant::parse(text).ok());
        if let (Some(time), true) = (time, own) {
            standing.insert(time.0, reading.clone());
        }
    }
}

/// Whether a reading that stands says all that a row says.
fn alike(standing: &Map<String, Value>, row: &Map<String, Value>) -> bool {
    let same = |(name, value): (&String, &Value)| match (standing.get(name), value.as_f64()) {
        (Some(known), Some(number)) => known.as_f64() == Some(number),
        (known, _) => known == Some(value),
    };
    row.iter().all(same)
}
