//! What leaves the house: reports, bundles, receipts, and the check of the log's newest
//! checkpoint.

use super::args::{ClockArgs, FormArgs, MonthsArgs, SendArgs};
use super::read::{Query, two_clocks};
use super::session::Session;
use super::write::write_note;
use crate::draft::Draft;
use crate::fault::Fault;
use crate::files;
use crate::transport::path_part;
use crate::trust::fingerprint;
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::merkle::sha256;
use selachron_schemas::names::Subject;
use selachron_schemas::note::VerifierKey;
use selachron_schemas::receipt::Receipt;
use serde_json::{Map, Value, json};
use std::io::Read;
use std::path::Path;

/// Reads an annual report.
///
/// # Errors
/// Of the reading, or the file cannot be written.
pub fn read(session: &Session, months: &Months, wanted: &FormArgs, read: &ClockArgs) -> Result<u8, Fault> {
    let (year, form) = (months.year, Form::of(wanted.html, wanted.pdf));
    let mut query = months.query(session, read)?;
    query.push(("format", form.name().to_owned()));
    query.extend(wanted.release.clone().map(|because| ("release", because)));
    let bytes = match form {
        Form::Json => fetch(session, year, &query, "application/json")?.into_bytes(),
        Form::Html => fetch(session, year, &query, "text/html")?.into_bytes(),
        Form::Pdf => fetch_bytes(session, year, &query, "application/pdf")?,
    };
    match &wanted.out {
        None => session.console.plain(&String::from_utf8_lossy(&bytes)),
        Some(path) => {
            files::replace(path, &bytes)?;
            session.console.result(&json!({"file": path, "sha256": hex(&sha256(&bytes))}), || format!("written to {}", path.display()));
        }
    }
    Ok(0)
}

/// From which notes a cell of an annual report is.
///
/// # Errors
/// Of the reading; no such cell.
pub fn cell(session: &Session, months: &Months, cell: &str, read: &ClockArgs) -> Result<u8, Fault> {
    let mut query = months.query(session, read)?;
    query.push(("cell", cell.to_owned()));
    let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let told = session.client()?.get(&format!("{}/cells", report_path(months.year)), &query)?;
    session.console.result(&told, || cell_told(&told));
    Ok(0)
}

/// `stock/…/died_other: 0.0.2`, and beneath it who gives something, with the notes.
fn cell_told(told: &Value) -> String {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    // A count is whole though it comes as a number that need not be; three stand as males.females.unknown.
    let one = |value: &Value| value.as_str().map_or_else(|| value.as_f64().unwrap_or_default().to_string(), str::to_owned);
    let list = |value: &Value, between: &str| value.as_array().into_iter().flatten().map(one).collect::<Vec<_>>().join(between);
    let mut lines = vec![format!("{}: {}", text(&told["told"]), list(&told["value"], "."))];
    for one in told["rests_on"].as_array().into_iter().flatten() {
        lines.push(format!("  {}  {}  {}", list(&one["gives"], "."), text(&one["subject"]), text(&one["label"])));
        lines.push(format!("      notes {}", list(&one["events"], " ")));
        lines.extend(one["left_out"].as_u64().map(|more| format!("      and {more} more")));
    }
    lines.join("\n")
}

/// Which twelve months.
pub struct Months<'a> {
    /// The year in which they begin.
    pub year: i32,
    /// The rest.
    pub of: &'a MonthsArgs,
}

impl Months<'_> {
    /// The query for them at the clocks asked for.
    fn query(&self, session: &Session, read: &ClockArgs) -> Result<Query, Fault> {
        let mut query = two_clocks(session, read)?;
        let named = [("begins", &self.of.begins), ("profile", &self.of.profile)];
        query.extend(named.into_iter().filter_map(|(name, value)| Some((name, value.clone()?))));
        Ok(query)
    }
}

/// In which form a report is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// The data; what is issued.
    Json,
    /// A page.
    Html,
    /// To be kept.
    Pdf,
}

impl Form {
    /// The form by the two flags, of which one at most is set.
    #[must_use]
    pub fn of(html: bool, pdf: bool) -> Self {
        match (html, pdf) {
            (true, _) => Self::Html,
            (_, true) => Self::Pdf,
            _ => Self::Json,
        }
    }

    fn name(self) -> &'static str {
        match self {
            Self::Json => "json",
            Self::Html => "html",
            Self::Pdf => "pdf",
        }
    }
}

/// The report's bytes, which are no text.
fn fetch_bytes(session: &Session, year: i32, query: &Query, accept: &str) -> Result<Vec<u8>, Fault> {
    let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let mut bytes = Vec::new();
    let mut stream = session.client()?.get_stream_of(&report_path(year), &query, accept)?;
    stream.read_to_end(&mut bytes).map_err(|error| Fault::Failed(format!("the PDF broke off while it was read: {error}")))?;
    Ok(bytes)
}

pub(super) fn fetch(session: &Session, year: i32, query: &Query, accept: &str) -> Result<String, Fault> {
    let query: Vec<(&str, &str)> = query.iter().map(|(name, value)| (*name, value.as_str())).collect();
    session.client()?.get_text(&report_path(year), &query, accept)
}

fn report_path(year: i32) -> String {
    format!("/v1/reports/annual/{year}")
}

/// What is issued.
pub struct Issue<'a> {
    /// Which twelve months.
    pub months: Months<'a>,
    /// Why it is released with lines that do not add up.
    pub release: Option<String>,
    /// Where the report's JSON is kept.
    pub out: &'a Path,
}

/// Exit code when the service refuses the note.
const REFUSED: u8 = 5;

/// Whether lines of the report add up, or somebody takes it upon himself.
fn released(report: &Value, release: Option<&String>) -> Result<Option<u64>, Fault> {
    let failing = report.pointer("/completeness/failing").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
    if !failing.is_empty() && release.is_none() {
        let text = |line: &Value, name: &str| line.get(name).and_then(Value::as_str).unwrap_or_default().to_owned();
        let named: Vec<String> =
            failing.iter().map(|line| format!("{}, {}, {}", text(line, "table"), text(line, "species"), text(line, "class"))).collect();
        return Err(Fault::Usage(format!(
            "{} of its lines do not add up ({}). Put the notes right that it names, or release it with them by --release WHY",
            failing.len(),
            named.join("; ")
        )));
    }
    Ok((!failing.is_empty()).then_some(failing.len() as u64))
}

/// Issues an annual report: keeps its JSON and signs its hash, with what it was made from. Both
/// clocks are fixed first, so that the address in the note gives the same bytes again.
///
/// # Errors
/// The report lacks what an issue must say, has lines that do not add up and nobody releases it, or is of another log than was verified here; the
/// file exists; what signing may fail with.
pub fn issue(session: &Session, issue: &Issue, read: &ClockArgs, send: &SendArgs) -> Result<u8, Fault> {
    let (months, year, out) = (&issue.months, issue.months.year, issue.out);
    if out.exists() {
        return Err(Fault::Usage(format!("--out {}: the file exists; a report that was issued is never replaced", out.display())));
    }
    let newest = session.client()?.look()?.checkpoint;
    let mut query = months.query(session, read)?;
    let says = |query: &Query, name: &str| query.iter().any(|(said, _)| *said == name);
    if !says(&query, "as_of") {
        query.push(("as_of", session.now().utc_text()));
    }
    if !says(&query, "known_at") {
        query.push(("known_at", newest.size.to_string()));
    }
    query.extend(issue.release.clone().map(|because| ("release", because)));
    let text = fetch(session, year, &query, "application/json")?;
    let report: Value = serde_json::from_str(&text).map_err(|error| Fault::Failed(format!("the report is not JSON: {error}")))?;
    let lacks = |name: &str| Fault::Failed(format!("the report does not say its {name}; it cannot be issued"));
    if report.get("known_at").and_then(Value::as_u64) == Some(newest.size) && report.get("root") != Some(&json!(base64(&newest.root))) {
        return Err(Fault::Broken("the report names another root than this machine has verified for the same number of notes".to_owned()));
    }
    let failing_lines = released(&report, issue.release.as_ref())?;
    // Which months a house's own profile means is known only beside the log.
    if let Some(begins) =
        report.pointer("/period/first_day").and_then(Value::as_str).and_then(|day| Some(day.split_once('-')?.1.to_owned()))
        && !says(&query, "begins")
    {
        query.push(("begins", begins));
    }
    let plain = |name: &str, value: &str| if name == "release" { path_part(value) } else { value.to_owned() };
    let pairs: Vec<String> = query.iter().map(|(name, value)| format!("{name}={}", plain(name, value))).collect();
    let mut data = Map::from_iter([("query".to_owned(), json!(format!("{}?{}", report_path(year), pairs.join("&"))))]);
    for name in ["as_of", "known_at", "root", "software", "tzdb"] {
        data.insert(name.to_owned(), report.get(name).cloned().ok_or_else(|| lacks(name))?);
    }
    if let Some(lines) = failing_lines {
        data.insert("failing_lines".to_owned(), json!(lines));
        data.insert("released_because".to_owned(), json!(issue.release));
    }
    data.insert("sha256".to_owned(), json!(hex(&sha256(text.as_bytes()))));
    files::write_new(out, text.as_bytes())?;
    session.console.say(&format!("the report is kept in {}: its hash is what is signed", out.display()));
    let sent = write_note(session, Draft::new("report.issued.v1", Subject::collection(), Value::Object(data)), send, &[]);
    if matches!(sent, Ok(REFUSED) | Err(Fault::Usage(_) | Fault::Refused(_))) {
        // Nobody stands for it: what was kept is taken away again.
        let _ = std::fs::remove_file(out);
    }
    let code = sent?;
    if code == 0 && !send.hold && send.draft.is_none() {
        give(session, out, text.as_bytes());
    }
    Ok(code)
}

/// The note stands whether or not its file arrives: what goes wrong here is only said.
fn give(session: &Session, file: &Path, bytes: &[u8]) {
    let given = session.client().and_then(|client| client.keep_file(bytes));
    session.console.say(&match given {
        Ok(_) => "the service keeps it too, and bundles carry it".to_owned(),
        Err(fault) => format!("the service does not keep it ({fault}); send it with `selachron keep {}`", file.display()),
    });
}

/// Sends a file that a note names, so that the service keeps it and bundles carry it.
///
/// # Errors
/// The file cannot be read; no note names it; it is too large.
pub fn keep(session: &Session, file: &Path) -> Result<u8, Fault> {
    let bytes = std::fs::read(file).map_err(|error| Fault::Usage(format!("{}: {error}", file.display())))?;
    let sha256 = session.client()?.keep_file(&bytes)?;
    session.console.result(&json!({"file": file, "sha256": sha256}), || format!("kept, with the SHA-256 {sha256}"));
    Ok(0)
}

/// Takes the log away as a folder.
///
/// # Errors
/// As [`crate::client::Client::bundle`].
pub fn bundle(session: &Session, folder: &Path) -> Result<u8, Fault> {
    let client = session.client()?;
    let taken = client.bundle(folder)?;
    let checkpoint = &taken.checkpoint.checkpoint;
    let json = json!({
        "folder": folder, "files": taken.files, "bytes": taken.bytes,
        "size": checkpoint.size, "root": base64(&checkpoint.root), "log_vkey": client.log_key()?.to_string(),
    });
    session.console.result(&json, || {
        format!("{} files, {} notes, in {}; `selachron-verify` proves them off line", taken.files, checkpoint.size, folder.display())
    });
    Ok(0)
}

/// Pins another key of the log, which somebody has compared by another way.
///
/// # Errors
/// No key, a key of another log, or one that the service does not sign with.
pub fn trust(session: &Session, vkey: &str) -> Result<u8, Fault> {
    let key = VerifierKey::parse(vkey.trim()).map_err(Fault::Usage)?;
    session.client()?.trust_instead(&key)?;
    session.console.result(&json!({"log_vkey": vkey.trim()}), || format!("pinned: {}", fingerprint(&key)));
    Ok(0)
}

/// The receipt of a recorded note, checked under the pinned key.
///
/// # Errors
/// No such note; broken.
pub fn receipt(session: &Session, id: &str) -> Result<u8, Fault> {
    let client = session.client()?;
    let text = client.get_text(&format!("/v1/events/{}/receipt", path_part(id)), &[], "text/plain")?;
    let broken = |reason: String| Fault::Broken(format!("the receipt of the note {id} does not hold: {reason}"));
    let receipt = Receipt::parse(&text).map_err(broken)?;
    let log_key = client.log_key()?;
    receipt.check(&log_key).map_err(broken)?;
    client.accept(&receipt.checkpoint, &log_key, None)?;
    session.console.result(&json!({"id": id, "seq": receipt.leaf.seq, "receipt": text}), || text.clone());
    Ok(0)
}

/// Fetches the newest checkpoint and proves it consistent with the last one seen here.
///
/// # Errors
/// Unreachable; broken.
pub fn check(session: &Session) -> Result<u8, Fault> {
    let client = session.client()?;
    let before = client.seen()?.map(|seen| seen.size);
    let note = client.look()?;
    let (checkpoint, key) = (&note.checkpoint, client.log_key()?);
    let json = json!({
        "origin": checkpoint.origin, "size": checkpoint.size, "root": base64(&checkpoint.root), "seen_before": before,
        "log_vkey": key.to_string(), "fingerprint": fingerprint(&key), "checkpoint": note.to_note(),
    });
    session.console.result(&json, || {
        let grown = match before {
            Some(before) => format!("it holds all {before} notes that were seen here before"),
            None => "it is the first that was seen here".to_owned(),
        };
        let root = base64(&checkpoint.root);
        format!("{} holds {} notes; {grown}\nroot         {root}\nfingerprint  {}", checkpoint.origin, checkpoint.size, fingerprint(&key))
    });
    Ok(0)
}
