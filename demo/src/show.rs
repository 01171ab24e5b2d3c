//! The demo from end to end: play, take the bundle, verify it, tell.

use crate::arguments::{Arguments, empty_folder};
use crate::play::{KEYS_FOLDER, Stage, Tally};
use crate::season::Season;
use crate::season::calendar::{LAST_DAY, REPORT_YEAR, at, date_of, text};
use crate::telling;
use crate::trouble::Trouble;
use selachron_record::clock::{Clock as _, SystemClock};
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::audit::{Audit, SHOWS, SHOWS_NOT, Verdict};
use selachron_schemas::encoding::hex;
use selachron_schemas::limits::DEMO_MEMORY_BYTES_MIN;
use selachron_schemas::merkle::sha256;
use selachron_schemas::note::VerifierKey;
use selachron_verify::words;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A season that has been played, taken away and verified.
pub struct Show<'a> {
    /// The service and whoever played.
    pub stage: Stage<'a>,
    season: &'a Season,
    tally: Tally,
    took: Duration,
    bundle: PathBuf,
    audit: Audit,
}

impl<'a> Show<'a> {
    /// Plays the season in `folder`, takes the bundle to `bundle` and verifies it.
    ///
    /// # Errors
    /// The first thing that fails; `Broken` when the verifier finds a fault.
    pub fn put_on(season: &'a Season, folder: &Path, bundle: PathBuf, listen: SocketAddr) -> Result<Self, Trouble> {
        let begun = SystemClock.now();
        let mut stage = Stage::found(season, folder, listen)?;
        let tally = stage.play()?.clone();
        let took = Duration::from_millis((SystemClock.now().0 - begun.0).unsigned_abs());
        stage.client().bundle(&bundle)?;
        let audit = verify(&bundle, stage.log_vkey())?;
        Ok(Self { stage, season, tally, took, bundle, audit })
    }

    /// What is said when the curtain falls, line by line.
    ///
    /// # Errors
    /// A read that fails.
    pub fn lines(&self) -> Result<Vec<String>, Trouble> {
        let client = self.stage.client();
        let report = client.get(&format!("/v1/reports/annual/{REPORT_YEAR}"), &[])?;
        let rearing = client.get("/v1/figures/rearing", &[])?;
        let mut lines = vec![telling::INVENTED.to_owned(), String::new()];
        lines.extend(self.what_was_done());
        for part in [telling::hatch_rates(&report), telling::rearing(&rearing, at(LAST_DAY, 20, 0)), self.history()?] {
            lines.push(String::new());
            lines.extend(part);
        }
        lines.push(String::new());
        let odd = client.get("/v1/discrepancies", &[])?;
        lines.extend(telling::discrepancies(&odd));
        lines.push(telling::noise(&odd, self.tally.receipts));
        lines.push(String::new());
        lines.extend(self.what_was_verified());
        Ok(lines)
    }

    fn what_was_done(&self) -> Vec<String> {
        let Tally { receipts, with_discrepancies, requests } = self.tally;
        let first = self.season.notes.first().map(|note| telling::day(date_of(note.time))).unwrap_or_default();
        vec![
            format!(
                "Played: {receipts} notes of {first} to {}, by {} keys, seed {}",
                telling::day(LAST_DAY),
                self.stage.facts().keys.len(),
                self.season.seed
            ),
            format!("  each sent to the service in one of {requests} requests; {receipts} receipts checked by the client"),
            format!("  {with_discrepancies} answers named a discrepancy; {:.1} seconds in all", self.took.as_secs_f64()),
        ]
    }

    fn history(&self) -> Result<Vec<String>, Trouble> {
        let (client, story) = (self.stage.client(), &self.season.story);
        let path = format!("/v1/animals/{}/history", story.label);
        let then = client.get(&path, &[("known_at", &text(story.then)), ("as_of", &text(story.then))])?;
        let now = client.get(&path, &[])?;
        Ok(telling::two_clocks(&story.label, (&then, date_of(story.then)), &now))
    }

    fn what_was_verified(&self) -> Vec<String> {
        let questions = self.audit.findings.len();
        vec![
            format!("The bundle ({} notes) was checked off line by the verifier, under the log key pinned here.", self.audit.size),
            format!("  It shows: {SHOWS};"),
            format!("  {SHOWS_NOT}."),
            format!("  {questions} findings are worth a question, none is a fault of the bundle."),
        ]
    }

    /// Where to look while the service runs.
    #[must_use]
    pub fn where_to_look(&self) -> Vec<String> {
        let (url, story) = (self.stage.running().url(), &self.season.story);
        let (bundle, folder) = (self.bundle.display(), self.stage.folder().display());
        vec![
            "Where to look".to_owned(),
            format!("  annual report   {url}/v1/reports/annual/{REPORT_YEAR}?format=html"),
            format!("  one animal      {url}/v1/animals/{}/history", story.label),
            format!("  at odds         {url}/v1/discrepancies"),
            format!("  the pages       {url}/ (to look at only: the season's clock is invented)"),
            format!("  the API         {url}/v1/openapi.json"),
            format!("  bundle          {bundle}"),
            format!("  all keys        {folder}/{KEYS_FOLDER}: one person has them all here, never do so with a real record"),
            "Try".to_owned(),
            format!("  cargo run --release --bin selachron-verify -- {bundle} --log-key '{}'", self.stage.log_vkey()),
            format!("  curl '{url}/v1/eggs/{}?as_of=2025-02-01'", story.case_label),
            format!("  curl '{url}/v1/animals/{}/history?known_at={}'", story.label, story.then.utc_text()),
        ]
    }

    /// Writes the report that was issued, as JSON and as a page made from it. Asked again now, the
    /// service must give the very bytes that the curator signed for.
    ///
    /// # Errors
    /// The report cannot be read or written; `Broken` if it is another than was issued.
    pub fn write_report(&self, out: &Path) -> Result<(), Trouble> {
        let issued = self.stage.facts().report.as_ref();
        let issued = issued.ok_or_else(|| Trouble::Failed("the season issued no report".to_owned()))?;
        let (path, as_of, known_at) =
            (format!("/v1/reports/annual/{REPORT_YEAR}"), format!("{REPORT_YEAR}-12-31"), issued.known_at.to_string());
        let query = [("as_of", as_of.as_str()), ("known_at", known_at.as_str())];
        let json = self.stage.client().get_text(&path, &query, "application/json")?;
        if hex(&sha256(json.as_bytes())) != issued.sha256 {
            let detail = "the annual report, asked again as it was issued, has another SHA-256 than the one signed for";
            return Err(Trouble::Broken(detail.to_owned()));
        }
        let html = self.stage.client().get_text(&path, &query, "text/html")?;
        for (name, text) in [("annual-report.json", json), ("annual-report.html", html)] {
            let file = out.join(name);
            std::fs::write(&file, text).map_err(|error| Trouble::io("write", &file, &error))?;
        }
        Ok(())
    }
}

/// Where Linux keeps files in memory.
const MEMORY_FOLDER: &str = "/dev/shm";

/// The folders of a run: where everything is kept, where the bundle goes.
pub struct Folders {
    /// Log, keys, client state.
    pub folder: PathBuf,
    /// The bundle.
    pub bundle: PathBuf,
    /// Removed when this is dropped.
    _temporary: Option<tempfile::TempDir>,
}

impl Folders {
    /// Makes the folders that were asked for, and a temporary one where none was.
    ///
    /// # Errors
    /// One of them is not empty or cannot be made.
    pub fn make(arguments: &Arguments) -> Result<Self, Trouble> {
        if let Some(out) = &arguments.out {
            empty_folder("--out", out)?;
        }
        let temporary = match &arguments.dir {
            Some(folder) => {
                empty_folder("--dir", folder)?;
                None
            }
            None => Some(temporary_folder()?),
        };
        let made = temporary.as_ref().map(|folder| folder.path().to_owned());
        let folder = arguments.dir.clone().or(made).unwrap_or_default();
        let bundle = arguments.out.as_ref().unwrap_or(&folder).join("bundle");
        Ok(Self { folder, bundle, _temporary: temporary })
    }
}

/// A temporary folder: where `TMPDIR` says, else in memory where there is room, else where the
/// system keeps such things. A client syncs each note to the disk several times, and for a season
/// that is thrown away only memory is quick at that.
fn temporary_folder() -> Result<tempfile::TempDir, Trouble> {
    let memory = Path::new(MEMORY_FOLDER);
    let roomy = fs4::available_space(memory).is_ok_and(|bytes| bytes >= DEMO_MEMORY_BYTES_MIN);
    let named = tempfile::Builder::new().prefix("selachron-demo-").to_owned();
    if roomy
        && std::env::var_os("TMPDIR").is_none()
        && let Ok(folder) = named.tempdir_in(memory)
    {
        return Ok(folder);
    }
    named.tempdir().map_err(|error| Trouble::Failed(format!("no temporary folder can be made: {error}; name one with --dir")))
}

fn verify(bundle: &Path, log_vkey: &str) -> Result<Audit, Trouble> {
    let log_key = VerifierKey::parse(log_vkey).map_err(Trouble::Failed)?;
    let trust = Trust { log_key: Some(log_key), ..Trust::default() };
    let audit = selachron_verify::bundle(bundle, &trust).map_err(|unreadable| Trouble::Failed(unreadable.to_string()))?;
    if audit.verdict == Verdict::Sound { Ok(audit) } else { Err(Trouble::Broken(words::text(&audit))) }
}
