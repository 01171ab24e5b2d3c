//! One call of the command line: its settings, its service, its key, and the labels it looked up.

use super::console::Console;
use crate::client::{Client, ClientSettings, Clock, Collection};
use crate::config::Config;
use crate::fault::Fault;
use crate::files;
use crate::keyfile::Identity;
use crate::transport::path_part;
use crate::values::Helper;
use crate::when::read_time;
use chrono_tz::Tz;
use selachron_schemas::names::{NOUNS, Subject, is_ulid};
use selachron_schemas::time::Instant;
use serde_json::Value;
use std::cell::{OnceCell, RefCell};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

/// Nouns whose things have labels, and where they are listed.
pub const LISTED: [(&str, &str); 17] = [
    ("egg", "eggs"),
    ("clutch", "clutches"),
    ("animal", "animals"),
    ("group", "groups"),
    ("tank", "tanks"),
    ("system", "systems"),
    ("species", "species"),
    ("key", "keys"),
    ("instrument", "instruments"),
    ("place", "places"),
    ("food", "foods"),
    ("round", "rounds"),
    ("incident", "incidents"),
    ("consignment", "consignments"),
    ("loan", "loans"),
    ("sample", "samples"),
    ("document", "documents"),
];

/// What every command has at hand.
pub struct Session {
    /// Settings and where they come from.
    pub config: Config,
    /// Where it speaks.
    pub console: Console,
    clock: Clock,
    client: OnceCell<Client>,
    identity: OnceCell<Identity>,
    labels: RefCell<BTreeMap<(String, String), Subject>>,
}

impl Session {
    /// A session; nothing is opened or asked yet.
    #[must_use]
    pub fn new(config: Config, console: Console, clock: Clock) -> Self {
        Self { config, console, clock, client: OnceCell::new(), identity: OnceCell::new(), labels: RefCell::default() }
    }

    /// The device's clock.
    #[must_use]
    pub fn now(&self) -> Instant {
        (self.clock)()
    }

    /// The service.
    ///
    /// # Errors
    /// The settings do not make one.
    pub fn client(&self) -> Result<&Client, Fault> {
        if let Some(client) = self.client.get() {
            return Ok(client);
        }
        let console = self.console;
        let mut settings = ClientSettings::new(self.config.url(), self.config.state_dir()?, Arc::clone(&self.clock));
        settings.log_vkey = self.config.get("log_key").map(str::to_owned);
        settings.ca_file = self.config.get("ca").map(PathBuf::from);
        settings.reader = self.config.get("key").map(|key| self.open(key.into())).transpose()?.map(|identity| identity.read_key());
        settings.talk = Arc::new(move |text| console.say(text));
        let client = Client::new(settings)?;
        Ok(self.client.get_or_init(|| client))
    }

    /// The key to sign with.
    ///
    /// # Errors
    /// None is set, or it cannot be opened.
    pub fn identity(&self) -> Result<Identity, Fault> {
        self.open(self.config.key()?)
    }

    /// Opened once: a passphrase is asked for once a call.
    fn open(&self, key: PathBuf) -> Result<Identity, Fault> {
        if let Some(identity) = self.identity.get() {
            return Ok(identity.clone());
        }
        let identity = Identity::open(key)?;
        Ok(self.identity.get_or_init(|| identity).clone())
    }

    /// The collection's time zone. It is fixed by the founding, so what was once heard from the
    /// pinned log is kept and serves off line.
    ///
    /// # Errors
    /// It was never heard and the service does not answer.
    pub fn zone(&self) -> Result<Tz, Fault> {
        let client = self.client()?;
        let folder = client.trust().log_folder(&client.origin()?);
        let kept = folder.join("time-zone");
        if let Some(zone) = files::read_text(&kept)?.and_then(|text| text.trim_end().parse().ok()) {
            return Ok(zone);
        }
        let Collection { time_zone, .. } = client.collection()?;
        let zone = time_zone.parse().map_err(|_| Fault::Failed(format!("the collection's time zone {time_zone:?} is not known here")))?;
        files::make_folder(&folder)?;
        files::replace(&kept, time_zone.as_bytes())?;
        Ok(zone)
    }

    /// A time as a person wrote it.
    ///
    /// # Errors
    /// It is none; or it is a bare time and the zone is not known.
    pub fn time(&self, flag: &str, text: &str) -> Result<Instant, Fault> {
        if let Ok(instant) = Instant::parse(text) {
            return Ok(instant);
        }
        read_time(text, self.zone()?, self.now()).map_err(|reason| Fault::Usage(format!("{flag}: {reason}")))
    }

    /// What a label or id names, whatever its noun, among `nouns`.
    ///
    /// # Errors
    /// No such thing; or several, which are named.
    pub fn find(&self, text: &str, nouns: &[&str]) -> Result<Subject, Fault> {
        if let Some(subject) = Subject::parse(text).filter(|subject| nouns.contains(&subject.noun())) {
            return Ok(subject);
        }
        if let Some((noun, label)) = named(text, nouns) {
            return self.subject(noun, label);
        }
        // A fault of the settings is no "no such thing" of any noun.
        self.client()?;
        let mut found = Vec::new();
        for noun in nouns {
            match self.look_up(noun, text) {
                Ok(subject) => found.push(subject),
                Err(Fault::NoSuchThing(_)) => {}
                Err(fault) => return Err(fault),
            }
        }
        match found.as_slice() {
            [one] => Ok(one.clone()),
            [] => Err(Fault::NoSuchThing(format!("there is no {} {text:?}", nouns.join(", ")))),
            several => {
                let several: Vec<&str> = several.iter().map(Subject::as_str).collect();
                Err(Fault::Usage(format!("{text:?} names several: {}; say which", several.join(", "))))
            }
        }
    }

    /// The text with the labels that were typed in this call beside the ids they stand for, so
    /// that a person can read what is signed.
    #[must_use]
    pub fn with_labels(&self, text: &str) -> String {
        let labels = self.labels.borrow();
        labels.iter().fold(text.to_owned(), |text, ((_, label), subject)| text.replace(subject.as_str(), &format!("{label} = {subject}")))
    }

    fn look_up(&self, noun: &str, text: &str) -> Result<Subject, Fault> {
        let key = (noun.to_owned(), text.to_owned());
        if let Some(known) = self.labels.borrow().get(&key) {
            return Ok(known.clone());
        }
        let Some((_, list)) = LISTED.iter().find(|(listed, _)| *listed == noun) else {
            return Err(Fault::Usage(format!("a {noun} has no label; name it by its id, {noun}/ULID")));
        };
        let answer = self.client()?.get(&format!("/v1/{list}/{}", path_part(text)), &[]).map_err(|fault| unclear(fault, noun, text))?;
        let id = answer.pointer("/item/id").and_then(Value::as_str).and_then(Subject::parse);
        let subject = id.ok_or_else(|| Fault::Failed(format!("the service's answer about the {noun} {text:?} lacks its id")))?;
        self.labels.borrow_mut().insert(key, subject.clone());
        Ok(subject)
    }
}

/// `noun/LABEL` or `noun:LABEL`, when the noun is one of `nouns`.
fn named<'a>(text: &'a str, nouns: &[&'a str]) -> Option<(&'a str, &'a str)> {
    let (noun, label) = text.split_once(['/', ':'])?;
    nouns.iter().find(|known| **known == noun).map(|known| (*known, label))
}

/// What a failed look-up means to the person who typed a label.
fn unclear(fault: Fault, noun: &str, text: &str) -> Fault {
    match fault {
        Fault::NoSuchThing(_) => Fault::NoSuchThing(format!("there is no {noun} {text:?} in the record")),
        Fault::Usage(why) => Fault::Usage(format!("{noun} {text:?}: {why}")),
        Fault::Unreachable(why) => Fault::Unreachable(format!("{why}; without the service a {noun} is named by its id, {noun}/ULID")),
        other => other,
    }
}

impl Helper for Session {
    fn subject(&self, noun: &str, text: &str) -> Result<Subject, Fault> {
        if let Some(subject) = Subject::parse(text) {
            let wrong = || Fault::Usage(format!("{text} is no {noun}"));
            return Some(subject).filter(|subject| subject.noun() == noun).ok_or_else(wrong);
        }
        let label = named(text, &[noun]).map_or(text, |(_, label)| label);
        if is_ulid(label) || (noun == "key" && Subject::parse(&format!("key/{label}")).is_some()) {
            let id = Subject::parse(&format!("{noun}/{label}"));
            return id.ok_or_else(|| Fault::Usage(format!("{noun:?} is no noun; a subject begins with one of: {}", NOUNS.join(", "))));
        }
        self.look_up(noun, label)
    }

    fn any_of(&self, nouns: &[&str], text: &str) -> Result<Subject, Fault> {
        if let Some(subject) = Subject::parse(text).filter(|subject| nouns.contains(&subject.noun())) {
            return Ok(subject);
        }
        // What bears no label is named by its id alone.
        let labelled: Vec<&str> = nouns.iter().filter(|noun| LISTED.iter().any(|(listed, _)| listed == *noun)).copied().collect();
        self.find(text, &labelled)
    }

    fn fresh(&self, noun: &str) -> Result<Subject, Fault> {
        crate::draft::new_subject(noun, self.now())
    }

    fn zone_and_now(&self) -> Result<(Tz, Instant), Fault> {
        Ok((self.zone()?, self.now()))
    }
}
