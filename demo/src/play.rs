//! Plays a season through the real client library to the real service, over HTTP. The service
//! runs in this process with a clock that is moved from step to step; each note is written and
//! signed while the device's clock says the moment at which the season has it signed.

use crate::facts::{Facts, Report, Written, report_query};
use crate::season::calendar::{LAST_DAY, REPORT_YEAR, at};
use crate::season::note::{Handle, Known, Planned, Step};
use crate::season::people::{EVERYBODY, Signer, TRUSTEES};
use crate::season::{Season, house};
use crate::trouble::Trouble;
use selachron_cli::answer::{Outcome, Recorded};
use selachron_cli::client::{Client, ClientSettings, Clock};
use selachron_cli::draft::Draft;
use selachron_cli::keyfile::Identity;
use selachron_cli::seal;
use selachron_record::clock::SimulatedClock;
use selachron_record::config::Network;
use selachron_record::init::{self, Plan};
use selachron_record::{Running, Service, Settings};
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::event::Event;
use selachron_schemas::merkle::sha256;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

/// Folder of the log within the demo's.
pub const LOG_FOLDER: &str = "log";
/// Folder of all keys within the demo's. Nobody should keep a real record like this.
pub const KEYS_FOLDER: &str = "keys";
/// Folder of what the client keeps against the service.
pub const STATE_FOLDER: &str = "client-state";

/// A service with a season under way, and everything that plays it.
pub struct Stage<'a> {
    season: &'a Season,
    folder: PathBuf,
    clock: Arc<SimulatedClock>,
    device: Arc<AtomicI64>,
    keys: BTreeMap<Signer, Identity>,
    facts: Facts,
    envelopes: HashMap<Handle, String>,
    /// The report that was read to be stood for, until its note is recorded.
    report: Option<String>,
    next: usize,
    played: usize,
    tally: Tally,
    client: Client,
    running: Running,
}

/// What playing came to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tally {
    /// Notes recorded, each with a receipt that the client checked.
    pub receipts: usize,
    /// Notes that the service answered with a discrepancy.
    pub with_discrepancies: usize,
    /// Requests that carried them.
    pub requests: usize,
}

impl<'a> Stage<'a> {
    /// Makes all keys in one folder, founds the log and starts the service.
    ///
    /// # Errors
    /// The folder cannot be written, or the service does not start at `listen`.
    pub fn found(season: &'a Season, folder: &Path, listen: SocketAddr) -> Result<Self, Trouble> {
        let begin = season.notes[0].time;
        let clock = Arc::new(SimulatedClock::new(begin));
        let keys = make_keys(&folder.join(KEYS_FOLDER))?;
        let log = folder.join(LOG_FOLDER);
        let log_vkey = make_log(season, &log, &keys, &clock)?;
        let public = keys.iter().map(|(signer, key)| (*signer, key.public_key())).collect();
        let mut facts = Facts::new(season, public, log_vkey.clone());
        let founding = found(season, &log, &keys, &mut facts, &clock)?;
        // An invented season, on this machine only: anybody here may look at it without a key.
        let network = Network { open_on_loopback: true, ..Network::default() };
        let settings = Settings { data_dir: log, listen, network, clock: clock.clone(), typesetter: None, allow_simulated: true };
        let running = Service::start(settings)?;
        let device = Arc::new(AtomicI64::new(begin.0));
        let client = client(&running.url(), folder, &device, log_vkey)?;
        let envelopes = HashMap::from([(season.notes[0].handle, founding)]);
        let folder = folder.to_owned();
        let tally = Tally::default();
        Ok(Self { season, folder, clock, device, keys, facts, envelopes, report: None, next: 1, played: 0, tally, client, running })
    }

    /// Plays the steps that are left.
    ///
    /// # Errors
    /// The first note that is not recorded, or whose receipt does not hold.
    pub fn play(&mut self) -> Result<&Tally, Trouble> {
        self.play_until(self.season.steps.len())
    }

    /// Plays until so many steps have been played in all.
    ///
    /// # Errors
    /// As [`Self::play`].
    pub fn play_until(&mut self, steps: usize) -> Result<&Tally, Trouble> {
        let season = self.season;
        for step in season.steps.iter().take(steps).skip(self.played) {
            self.step(step)?;
            self.played += 1;
        }
        if self.played == season.steps.len() {
            self.clock.set(at(LAST_DAY, 20, 0));
            self.device.store(at(LAST_DAY, 20, 0).0, Ordering::SeqCst);
        }
        Ok(&self.tally)
    }

    /// The client that played it.
    #[must_use]
    pub fn client(&self) -> &Client {
        &self.client
    }

    /// The service.
    #[must_use]
    pub fn running(&self) -> &Running {
        &self.running
    }

    /// The log's verifier key.
    #[must_use]
    pub fn log_vkey(&self) -> &str {
        &self.facts.log_vkey
    }

    /// The clock of the service.
    #[must_use]
    pub fn clock(&self) -> Arc<SimulatedClock> {
        self.clock.clone()
    }

    /// The folder of the log.
    #[must_use]
    pub fn log(&self) -> PathBuf {
        self.folder.join(LOG_FOLDER)
    }

    /// The folder of everything.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// What is known of the notes so far.
    #[must_use]
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// Writes what was signed until the step's clock, then sends what the step sends.
    fn step(&mut self, step: &Step) -> Result<(), Trouble> {
        let season = self.season;
        while let Some(note) = season.notes.get(self.next).filter(|note| note.signed_at <= step.clock) {
            self.next += 1;
            self.write(note)?;
        }
        self.clock.set(step.clock);
        self.device.store(step.clock.0, Ordering::SeqCst);
        self.send(step)
    }

    fn write(&mut self, note: &Planned) -> Result<(), Trouble> {
        self.device.store(note.signed_at.0, Ordering::SeqCst);
        if note.gaps.iter().any(|(_, known)| matches!(known, Known::Report(_))) {
            let (report, text) = self.read_report()?;
            (self.facts.report, self.report) = (Some(report), Some(text));
        }
        let draft = draft(note, &self.facts)?;
        let body = self.client.write(&self.keys[&note.author], &draft)?;
        self.keep(note, &body)
    }

    fn keep(&mut self, note: &Planned, body: &[u8]) -> Result<(), Trouble> {
        let signed = seal::sign(body, &signers(note, &self.keys));
        self.facts.written.insert(note.handle, written(body)?);
        self.envelopes.insert(note.handle, signed);
        Ok(())
    }

    /// Sends a step's notes in one request. Until their receipts are checked their bodies stay in
    /// the outboxes of their authors.
    fn send(&mut self, step: &Step) -> Result<(), Trouble> {
        let envelopes: Vec<String> = step.sends.iter().map(|handle| self.envelopes[handle].clone()).collect();
        let authors: BTreeSet<Signer> = step.sends.iter().map(|handle| self.season.note(*handle).author).collect();
        authors.iter().for_each(|author| self.client.know(&self.keys[author]));
        let outcomes = self.client.post(&envelopes);
        authors.iter().try_for_each(|author| self.keys[author].settle(&outcomes))?;
        self.tally.requests += 1;
        step.sends.iter().zip(outcomes).try_for_each(|(handle, outcome)| self.settle(*handle, outcome))?;
        let stood_for = |report: &String| self.client.keep_file(report.as_bytes()).map(drop);
        self.report.take().as_ref().map_or(Ok(()), stood_for).map_err(Trouble::from)
    }

    fn settle(&mut self, handle: Handle, outcome: Outcome) -> Result<(), Trouble> {
        let note = self.season.note(handle);
        let stopped = |fault| {
            let (kind, author) = (note.kind, note.author.called());
            Trouble::Failed(format!("{kind} by {author}, of {}, is not recorded: {fault}", crate::season::calendar::text(note.time)))
        };
        let recorded: Recorded = outcome.recorded().map_err(stopped)?;
        self.tally.receipts += 1;
        self.tally.with_discrepancies += usize::from(!recorded.discrepancies.is_empty());
        let version = u32::try_from(recorded.subject_version).unwrap_or(u32::MAX);
        self.facts.versions.insert(recorded.subject, version);
        if let Some(written) = self.facts.written.get_mut(&handle) {
            written.seq = Some(recorded.seq);
        }
        self.envelopes.remove(&handle);
        Ok(())
    }

    /// Reads the annual report that the curator is about to stand for, over what is known now.
    fn read_report(&self) -> Result<(Report, String), Trouble> {
        let seen = self.client.look()?.checkpoint;
        let (path, as_of, known_at) = (format!("/v1/reports/annual/{REPORT_YEAR}"), format!("{REPORT_YEAR}-12-31"), seen.size.to_string());
        let query = [("as_of", as_of.as_str()), ("known_at", known_at.as_str())];
        let text = self.client.get_text(&path, &query, "application/json")?;
        let whole: Value =
            serde_json::from_str(&text).map_err(|error| Trouble::Failed(format!("the annual report is not JSON: {error}")))?;
        let says = |name: &str| whole.get(name).and_then(Value::as_str).map(str::to_owned);
        let as_of = says("as_of").ok_or_else(|| Trouble::Failed("the annual report does not say which instant it is about".to_owned()))?;
        let report = Report {
            query: report_query(seen.size),
            as_of,
            known_at: seen.size,
            root: base64(&seen.root),
            sha256: hex(&sha256(text.as_bytes())),
            software: says("software").unwrap_or_else(|| format!("selachron {}", env!("CARGO_PKG_VERSION"))),
            time_zones: says("tzdb").unwrap_or_else(|| chrono_tz::IANA_TZDB_VERSION.to_owned()),
        };
        Ok((report, text))
    }
}

fn make_keys(folder: &Path) -> Result<BTreeMap<Signer, Identity>, Trouble> {
    std::fs::create_dir_all(folder).map_err(|error| Trouble::io("make", folder, &error))?;
    let make = |signer: Signer| Ok((signer, Identity::create(folder.join(format!("{}.pem", signer.key_name())))?));
    EVERYBODY.into_iter().map(make).collect()
}

/// Makes the log's folder and key; the log's verifier key.
fn make_log(season: &Season, log: &Path, keys: &BTreeMap<Signer, Identity>, clock: &SimulatedClock) -> Result<String, Trouble> {
    let roots = TRUSTEES.iter().map(|trustee| (keys[trustee].public_key(), season.person(*trustee))).collect();
    let plan = Plan {
        origin: house::ORIGIN.to_owned(),
        name: house::COLLECTION_NAME.to_owned(),
        country: house::COUNTRY.to_owned(),
        time_zone: crate::season::calendar::ZONE.name().to_owned(),
        roots,
        root_threshold: 2,
        simulated_clock: true,
    };
    let body = init::prepare(log, &plan, clock)?;
    let body = std::fs::read(&body).map_err(|error| Trouble::io("read", &body, &error))?;
    let founding = Event::parse(&body).map_err(|refusal| Trouble::Failed(refusal.detail))?;
    let vkey = founding.data.get("log_vkey").and_then(Value::as_str);
    vkey.map(str::to_owned).ok_or_else(|| Trouble::Failed("the founding body names no log key".to_owned()))
}

/// Founds the log with the season's own first note; its envelope, to be sent again for a receipt.
fn found(
    season: &Season,
    log: &Path,
    keys: &BTreeMap<Signer, Identity>,
    facts: &mut Facts,
    clock: &Arc<SimulatedClock>,
) -> Result<String, Trouble> {
    let note = &season.notes[0];
    clock.set(note.signed_at);
    let body = draft(note, facts)?.write(&keys[&note.author], house::ORIGIN, note.signed_at, None)?;
    let envelope = seal::sign(&body, &signers(note, keys));
    init::found(log, envelope.as_bytes(), clock.clone())?;
    facts.written.insert(note.handle, written(&body)?);
    Ok(envelope)
}

fn client(url: &str, folder: &Path, device: &Arc<AtomicI64>, log_vkey: String) -> Result<Client, Trouble> {
    let device = device.clone();
    let clock: Clock = Arc::new(move || Instant(device.load(Ordering::SeqCst)));
    let settings = ClientSettings { log_vkey: Some(log_vkey), ..ClientSettings::new(url, folder.join(STATE_FOLDER), clock) };
    Ok(Client::new(settings)?)
}

fn draft(note: &Planned, facts: &Facts) -> Result<Draft, Trouble> {
    let mut draft = Draft::new(note.kind, facts.subject_of(note)?, json!(facts.data_of(note)?)).time(note.time);
    draft.timeafter = note.timeafter;
    draft.late.clone_from(&note.late_reason);
    draft.expect = facts.expected(note)?;
    draft.correlation.clone_from(&note.round);
    Ok(draft)
}

/// Who signs a note, its author first.
fn signers<'k>(note: &Planned, keys: &'k BTreeMap<Signer, Identity>) -> Vec<&'k Identity> {
    std::iter::once(&note.author).chain(&note.approvals).map(|signer| &keys[signer]).collect()
}

fn written(body: &[u8]) -> Result<Written, Trouble> {
    let event = Event::parse(body).map_err(|refusal| Trouble::Failed(refusal.detail))?;
    Ok(Written { id: event.id, keycount: event.keycount, body_sha256: sha256(body), seq: None })
}
