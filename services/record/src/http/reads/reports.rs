//! `GET /v1/reports/annual/{year}`: what twelve months come to, for each reader. A GET never writes: a
//! report is issued by a person who signs the hash of the bytes that are served here.

use crate::domain::view::View;
use crate::export::yearly::gather;
use crate::failure::{Broken, Failure, Question, Setup};
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams, Reading};
use crate::http::page::Answered;
use crate::http::problem::{OK, Problem};
use crate::http::reads::figures::year;
use crate::report::annual::cells::{CellExplained, explain};
use crate::report::annual::compile::begun;
use crate::report::annual::gather::books;
use crate::report::annual::material::Twelve;
use crate::report::annual::profile::{self, PLAIN, Profile, ProfileFault, ProfileUsed};
use crate::report::annual::shape::{Collection, RefusedWrites};
use crate::report::annual::{AnnualReport, Identity, NotYet, compile};
use crate::report::annual::{cells_of_notes, cells_of_rows};
use crate::report::figures::fates::Count;
use crate::report::html;
use axum::extract::{Path, State};
use axum::http::{HeaderName, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use chrono::NaiveDate;
use selachron_schemas::encoding::base64;
use selachron_schemas::limits::{PROFILE_BYTES_MAX, RELEASE_CHARS_MAX};
use selachron_schemas::names::KeyId;
use serde::Deserialize;
use std::path::Path as FilePath;
use utoipa::IntoParams;

/// Which twelve months, and for whom.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AnnualQuery {
    /// The day of the year on which the twelve months begin, `04-01`; if nobody says, that of the profile.
    pub begins: Option<String>,
    /// Jurisdiction profile: `plain` if nobody says, another that is shipped, or one of the house's own.
    pub profile: Option<String>,
    /// Why whoever is going to sign it releases the report with lines that do not add up: page one says so.
    pub release: Option<String>,
}

impl From<NotYet> for Failure {
    fn from(not_yet: NotYet) -> Self {
        let name = match not_yet {
            NotYet::YearNotBegun { .. } => "as_of",
            NotYet::NoSuchYear { .. } => "year",
        };
        Question::bad(name, not_yet.to_string()).into()
    }
}

impl From<ProfileFault> for Failure {
    fn from(fault: ProfileFault) -> Self {
        Question::bad("profile", fault.to_string()).into()
    }
}

/// A profile's name is a file's name.
fn is_name(name: &str) -> bool {
    !name.is_empty() && name.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-')
}

/// The profile of that name: one that is shipped, or a file of the house.
fn profile_of(folder: &FilePath, name: &str) -> Result<Profile, Failure> {
    if let Some(shipped) = profile::shipped(name) {
        return Ok(shipped);
    }
    let none = || ProfileFault::NoSuchProfile(name.to_owned());
    let path = folder.join("profiles").join(format!("{name}.json"));
    if !is_name(name) || !path.is_file() {
        return Err(none().into());
    }
    let fault = |fault: String| Failure::from(ProfileFault::Unreadable { name: name.to_owned(), fault });
    let size = std::fs::metadata(&path).map_err(|error| Setup::Io(format!("reading {}: {error}", path.display())))?.len();
    if size > PROFILE_BYTES_MAX {
        return Err(fault(format!("its file has {size} bytes, more than {PROFILE_BYTES_MAX}")));
    }
    let text = std::fs::read_to_string(&path).map_err(|error| fault(error.to_string()))?;
    let profile = profile::read(name, &text)?;
    if profile.profile != name {
        return Err(fault(format!("its file calls it {:?}", profile.profile)));
    }
    Ok(profile)
}

/// The months that are asked for, and the version of the profile that holds on their first day.
fn months(app: &App, year: i32, query: &AnnualQuery) -> Result<(Twelve, ProfileUsed), Failure> {
    let profile = profile_of(&app.scratch, query.profile.as_deref().unwrap_or(PLAIN))?;
    let twelve = match &query.begins {
        None => profile::months(&profile, year),
        Some(text) => beginning(year, text)?,
    };
    let first = NaiveDate::from_ymd_opt(twelve.year, twelve.month, twelve.day);
    let last = first.and_then(|first| first.checked_add_months(chrono::Months::new(12))?.pred_opt());
    let (first, last) = first.zip(last).ok_or(NotYet::NoSuchYear { year })?;
    Ok((twelve, profile::in_force(&profile, first, last)?))
}

/// Why a report is released with its failing lines, in words that a note can hold.
fn release(query: &AnnualQuery) -> Result<Option<String>, Question> {
    let Some(text) = &query.release else { return Ok(None) };
    let fits = (1..=RELEASE_CHARS_MAX).contains(&text.chars().count()) && !text.chars().any(char::is_control) && !text.trim().is_empty();
    let wrong = || Question::bad("release", format!("say in 1 to {RELEASE_CHARS_MAX} code points of one line why it is released"));
    fits.then(|| Some(text.clone())).ok_or_else(wrong)
}

/// The report of twelve months: a calendar year, the year of a profile, or those that begin on a day.
/// Without `as_of` it is told up to their end, or up to now while they last. The JSON is
/// `schemas/report/annual-report.v1.schema.json`; its bytes are what `report.issued` names. `format=html`,
/// or an `Accept` that prefers it, gives the page made from that JSON, and `format=pdf` the same to keep
/// (PDF/A-3a) and to be read aloud (PDF/UA-1), with the JSON attached; 503 where no typesetter is
/// installed.
#[utoipa::path(
    get, path = "/v1/reports/annual/{year}", tag = "figures",
    params(ReadParams, AnnualQuery, ("year" = String, Path, description = "Four digits: the year in which the months begin")),
    responses((status = 200, body = Object), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn annual(State(app): State<App>, Path(text): Path<String>, mut asked: Asked<AnnualQuery>) -> Result<Response, Failure> {
    let form = asked.form(&["json", "html", "pdf"])?;
    let year = year(&text)?;
    let (twelve, profile) = months(&app, year, &asked.query)?;
    let days = begun(twelve, asked.at.zone, asked.at.as_of)?;
    if !asked.says("as_of") {
        asked.at.as_of = days.until(asked.at.as_of);
    }
    let release = release(&asked.query)?;
    let refused = refused_writes(&app, days.start, days.until(asked.at.as_of)).await?;
    let material = app.view(&asked.at, move |view| Ok(gather(view, twelve)?)).await?;
    let report = compile(&Identity { profile, refused_writes: Some(refused), release, ..identity(&app, &asked.at)? }, &material)?;
    if asked.query.release.is_some() && report.completeness.failing.is_empty() {
        return Err(Question::bad("release", "every line adds up: there is nothing to release; ask without it").into());
    }
    let bytes = report.to_bytes().map_err(|error| Broken::new(format!("a report that is no JSON: {error}")))?;
    match form {
        "html" => page(&asked, &bytes),
        "pdf" => Ok(pdf(&asked, year, app.typesetter.pdf(bytes).await?)),
        _ => Ok((OK, asked.headers(), [(header::CONTENT_TYPE, HeaderValue::from_static("application/json"))], bytes).into_response()),
    }
}

/// Which cell, of which months.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct CellQuery {
    /// The cell, such as `stock/Chiloscyllium punctatum/hatched` or `hatch_rates/collected/with yolk/x`.
    pub cell: Option<String>,
    /// The day of the year on which the twelve months begin, `04-01`; 1 January if nobody says.
    pub begins: Option<String>,
}

/// From which notes a cell of the annual report is: every case or animal that gives something in it, with
/// its notes. A share or an interval is told by its denominator. Rows of the readers' parts name their
/// notes in the report itself; `tables/deaths/3` tells them here, by what they are about.
#[utoipa::path(
    get, path = "/v1/reports/annual/{year}/cells", tag = "figures",
    params(ReadParams, CellQuery, ("year" = String, Path, description = "Four digits: the year in which the months begin")),
    responses((status = 200, body = Answered<CellExplained>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn cells(State(app): State<App>, Path(text): Path<String>, mut asked: Asked<CellQuery>) -> Result<Response, Failure> {
    asked.form(&["json"])?;
    let year = year(&text)?;
    let begins = asked.query.begins.as_deref();
    let twelve = begins.map_or_else(|| Ok(year.into()), |text| beginning(year, text))?;
    let cell = asked.query.cell.clone().ok_or_else(|| Question::bad("cell", "say which cell, such as ledger/all species/dead"))?;
    let days = begun(twelve, asked.at.zone, asked.at.as_of)?;
    if !asked.says("as_of") {
        asked.at.as_of = days.until(asked.at.as_of);
    }
    let work = move |view: &View<'_>| {
        let explained = match cell.split('/').next() {
            Some("writers") => cells_of_notes::of_writers(view, twelve, &cell),
            Some("delays") => cells_of_notes::of_delays(view, twelve, &cell),
            Some("water") => cells_of_notes::of_water(&books(view, twelve)?, &cell),
            Some("discrepancies") => cells_of_rows::of_discrepancies(&books(view, twelve)?, &cell),
            Some("tables") => cells_of_rows::of_row(view, &gather(view, twelve)?.parts, &cell),
            _ => explain(&books(view, twelve)?, &cell),
        };
        Ok(explained.map_err(|none| Question::bad("cell", none.to_string()))?)
    };
    let explained: CellExplained = app.view(&asked.at, work).await?;
    asked.answer(explained)
}

fn beginning(year: i32, text: &str) -> Result<Twelve, Question> {
    let wrong = || Question::bad("begins", format!("{text:?} is not a day of every year, such as 04-01"));
    Twelve::beginning(year, text).ok_or_else(wrong)
}

/// What was refused in the months, from beside the log.
async fn refused_writes(
    app: &App,
    from: selachron_schemas::time::Instant,
    until: selachron_schemas::time::Instant,
) -> Result<RefusedWrites, Failure> {
    let (counts, reaches_back) = app.blocking(move |app| app.refusals.between(from, until)).await?;
    let count = |(name, count): (String, i64)| Count { name, count: count.try_into().unwrap_or_default() };
    Ok(RefusedWrites { by_problem: counts.into_iter().map(count).collect(), reaches_back })
}

/// Whose report it is, and the log's place for it.
pub(super) fn identity(app: &App, at: &Reading) -> Result<Identity, Failure> {
    let published = app.journal.published();
    let founding = published.founding().ok_or_else(|| Broken::new("a read without a founding"))?;
    let key = published.log_keys().newest().ok_or_else(|| Broken::new("a log without a key"))?;
    let collection = Collection {
        name: founding.name.clone(),
        country: founding.country.clone(),
        time_zone: founding.zone.name().to_owned(),
        origin: founding.origin.clone(),
        log_vkey: key.to_string(),
        log_key_fingerprint: KeyId::of(key.public_key().as_bytes()).to_string(),
    };
    Ok(Identity {
        collection,
        known_at: at.known_at,
        root: base64(&at.root),
        withheld: at.withheld,
        simulated_clock: at.simulated_clock,
        profile: ProfileUsed::default(),
        refused_writes: None,
        release: None,
    })
}

fn pdf<Q>(asked: &Asked<Q>, year: i32, file: Vec<u8>) -> Response {
    let named =
        HeaderValue::try_from(format!("inline; filename=\"annual-report-{year}.pdf\"")).unwrap_or(HeaderValue::from_static("inline"));
    let headers = [
        (header::CONTENT_TYPE, HeaderValue::from_static("application/pdf")),
        (header::CONTENT_DISPOSITION, named),
        (header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff")),
    ];
    (OK, asked.headers(), headers, file).into_response()
}

/// The page, made from the very bytes that the JSON answer has. It may load nothing and run nothing.
fn page<Q>(asked: &Asked<Q>, bytes: &[u8]) -> Result<Response, Failure> {
    let report: AnnualReport =
        serde_json::from_slice(bytes).map_err(|error| Broken::new(format!("a report that does not read: {error}")))?;
    let closed = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
    let headers: [(HeaderName, HeaderValue); 3] = [
        (header::CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8")),
        (header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(closed)),
        (header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff")),
    ];
    Ok((OK, asked.headers(), headers, html::html(&report)).into_response())
}
