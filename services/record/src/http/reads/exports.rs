//! `GET /v1/exports/…`: what the notes say, for other people's tools. What is large is sent while it is
//! written; a stream that breaks off ends with an error, so that nobody takes half for the whole.

use crate::domain::view::View;
use crate::export::changes::{self, RowChange};
use crate::export::darwin_core::{self, terms::Target};
use crate::export::describe::{Provenance, csvw};
use crate::export::folder::{Table, pretty, write_csv, write_package};
use crate::export::pedigree::{self, Loss};
use crate::export::place::{Place, Tar};
use crate::export::shape::Shape;
use crate::export::studbook::{STUDBOOK, STUDBOOK_NOTES, json_row};
use crate::export::tables::TABLES;
use crate::export::{Asking, lists, stream};
use crate::failure::{Broken, Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, NoMore, ReadParams};
use crate::http::events::item;
use crate::http::page::Answered;
use crate::http::problem::{OK, Problem};
use crate::http::reads::figures::year;
use crate::http::reads::many;
use crate::http::reads::reports::identity;
use crate::report::annual::compile::begun;
use crate::report::annual::gather::books;
use crate::report::annual::shape::{Completeness, Period};
use crate::report::annual::stock::{BY_OWNERSHIP, BY_PRESENCE, StockList};
use crate::report::annual::{AnnualReport, compile};
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderName, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use selachron_schemas::limits::PAGE_EVENTS_MAX;
use selachron_schemas::names::Subject;
use selachron_schemas::note::plain_number;
use selachron_schemas::time::Instant;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::io::{self, Write};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// The routes of the exports.
#[must_use]
pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(events))
        .routes(routes!(tables))
        .routes(routes!(studbook))
        .routes(routes!(pedigree_of))
        .routes(routes!(darwin_core_of))
        .routes(routes!(stock_list))
        .routes(routes!(egg_ledger))
}

/// Which year a list is of.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct YearQuery {
    /// A calendar year of the collection, four digits.
    pub year: Option<String>,
}

/// From where in the record an export is.
pub(super) fn provenance<Q>(app: &App, asked: &Asked<Q>) -> Result<Provenance, Failure> {
    let published = app.journal.published();
    let founding = published.founding().ok_or_else(|| Broken::new("a read without a founding"))?;
    Ok(Provenance {
        as_of: asked.at.as_of,
        known_at: asked.at.known_at,
        root: Provenance::root_text(&asked.at.root),
        origin: founding.origin.clone(),
        collection: founding.name.clone(),
        time_zone: founding.zone.name().to_owned(),
        withheld: asked.at.withheld,
        suspected: asked.at.suspected,
        simulated_clock: asked.at.simulated_clock,
        software: concat!("selachrond ", env!("CARGO_PKG_VERSION")).to_owned(),
    })
}

/// What every form of an export says beside its content: V, S and root, where no descriptor can.
pub(super) fn headed<Q>(asked: &Asked<Q>, media: &'static str, name: &str) -> [(HeaderName, HeaderValue); 7] {
    let value = |text: &str| HeaderValue::from_str(text).unwrap_or(HeaderValue::from_static(""));
    [
        (header::CONTENT_TYPE, HeaderValue::from_static(media)),
        (header::CONTENT_DISPOSITION, value(&format!("attachment; filename=\"{name}\""))),
        (HeaderName::from_static("selachron-as-of"), value(&asked.at.as_of.utc_text())),
        (HeaderName::from_static("selachron-known-at"), value(&asked.at.known_at.to_string())),
        (HeaderName::from_static("selachron-withheld"), value(&asked.at.withheld.to_string())),
        (HeaderName::from_static("selachron-suspected"), value(&asked.at.suspected.to_string())),
        (HeaderName::from_static("selachron-root"), value(&Provenance::root_text(&asked.at.root))),
    ]
}

/// The media type of CSV with a header line (RFC 4180).
pub(super) const CSV: &str = "text/csv; charset=utf-8; header=present";
const TEXT: &str = "text/plain; charset=utf-8";
const CSVW: &str = "application/csvm+json";
pub(super) const TAR: &str = "application/x-tar";

fn sent<Q>(asked: &Asked<Q>, media: &'static str, name: &str, body: Body) -> Response {
    (OK, asked.headers(), headed(asked, media, name), body).into_response()
}

fn asking(app: &App, as_of: Instant, known_at: u64) -> Asking<'_> {
    Asking { projections: &app.projections, as_of, known_at, scratch: &app.scratch }
}

/// What `write` writes, sent as it is written, once everything that is published is known.
async fn streamed<Q>(
    app: App,
    asked: &Asked<Q>,
    (media, name): (&'static str, &str),
    write: impl FnOnce(&App, &Asking<'_>, &mut dyn Write) -> Result<(), Failure> + Send + 'static,
) -> Result<Response, Failure> {
    app.catch_up().await?;
    let (as_of, known_at) = (asked.at.as_of, asked.at.known_at);
    let body = stream::produced(move |out| write(&app, &asking(&app, as_of, known_at), out));
    Ok(sent(asked, media, name, Body::from_stream(body)))
}

/// Files that `fill` gives one by one, as a tar that is sent while it is made.
pub(super) async fn packed<Q>(
    app: App,
    asked: &Asked<Q>,
    name: &str,
    fill: impl FnOnce(&Asking<'_>, &mut dyn Place) -> Result<(), Failure> + Send + 'static,
) -> Result<Response, Failure> {
    let write = move |app: &App, asking: &Asking<'_>, out: &mut dyn Write| {
        let mut tar = Tar::begun(out, &app.scratch)?;
        fill(asking, &mut tar)?;
        tar.finish()
    };
    streamed(app, asked, (TAR, name), write).await
}

/// A table as CSV, or its description.
pub(super) async fn table<Q>(app: App, asked: &Asked<Q>, form: &str, table: Table, title: &str) -> Result<Response, Failure> {
    let name = table.shape.file();
    if form == "csvw" {
        return described(&app, asked, table.shape, title);
    }
    streamed(app, asked, (CSV, &name), move |_, asking, out| write_csv(out, &table, asking).map(drop)).await
}

/// The CSV on the Web metadata of a table, by the name under which its recommendation looks for it (5.4).
pub(super) fn described<Q>(app: &App, asked: &Asked<Q>, shape: &Shape, title: &str) -> Result<Response, Failure> {
    let described = csvw(title, &[shape], &provenance(app, asked)?);
    Ok(metadata(asked, &shape.file(), &described))
}

fn metadata<Q>(asked: &Asked<Q>, file: &str, described: &Value) -> Response {
    sent(asked, CSVW, &format!("{file}-metadata.json"), pretty(described).into())
}

/// All notes as they were signed, one a line: the items of `/v1/events`, however many there are.
#[utoipa::path(
    get, path = "/v1/exports/events", tag = "exports", params(ReadParams),
    responses(
        (status = 200, description = "One note a line", body = String, content_type = "application/x-ndjson"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn events(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    asked.form(&["ndjson"])?;
    streamed(app, &asked, ("application/x-ndjson", "events.ndjson"), |app, asking, out| {
        let mut seq = 0;
        while seq < asking.known_at {
            let wanted = PAGE_EVENTS_MAX.min(usize::try_from(asking.known_at - seq).unwrap_or(PAGE_EVENTS_MAX));
            let page = app.journal.store().read_all(seq, wanted)?;
            if page.first().is_none_or(|row| row.leaf.seq != seq) {
                return Err(Broken::at(seq, "published, but not in the store").into());
            }
            seq += page.len() as u64;
            for row in page {
                line(out, &item(app, row, asking.known_at)?)?;
            }
        }
        Ok(())
    })
    .await
}

fn line(out: &mut dyn Write, value: &impl Serialize) -> Result<(), Failure> {
    let failed = |error: io::Error| crate::failure::io("sending an export", &error);
    serde_json::to_writer(&mut *out, value).map_err(|error| failed(error.into()))?;
    out.write_all(b"\n").map_err(failed)
}

/// The record as plain tables: CSV files with a Frictionless data package and CSV on the Web metadata.
#[utoipa::path(
    get, path = "/v1/exports/tables", tag = "exports", params(ReadParams),
    responses(
        (status = 200, description = "A tar of the tables and their descriptors", body = String, content_type = "application/x-tar"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn tables(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    asked.form(&["tar"])?;
    let from = provenance(&app, &asked)?;
    packed(app, &asked, "tables.tar", move |asking, place| {
        write_package(place, "nursery-tables", "The record of an egg nursery, as plain tables", &TABLES, asking, &from)
    })
    .await
}

/// The studbook: one row an animal, with the notes behind every cell. JSON comes a page at a time; `csv`
/// is one table, `csvw` its description, `tar` the table, the notes behind each cell and both descriptors.
/// With `since`, what changed in it since the log had so many notes, as JSON, CSV, or the description of that.
#[utoipa::path(
    get, path = "/v1/exports/studbook", tag = "exports", params(ReadParams, StudbookQuery),
    responses((status = 200, body = Object), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn studbook(State(app): State<App>, asked: Asked<StudbookQuery>) -> Result<Response, Failure> {
    let title = "Studbook";
    if let Some(since) = asked.query.since.clone() {
        return changes_of(app, asked, &since).await;
    }
    match asked.form(&["json", "csv", "csvw", "tar"])? {
        "json" => many(app, asked, "animal", |view: &View<'_>, id: &Subject| json_row(view, id)).await,
        "tar" => {
            let from = provenance(&app, &asked)?;
            packed(app, &asked, "studbook.tar", move |asking, place| {
                write_package(place, "studbook", title, &[STUDBOOK, STUDBOOK_NOTES], asking, &from)
            })
            .await
        }
        form => table(app, &asked, form, STUDBOOK, title).await,
    }
}

/// What a studbook may be asked beside its moment.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct StudbookQuery {
    /// A number of notes, `known_at` of an earlier export: only what changed since.
    pub since: Option<String>,
}

async fn changes_of(app: App, asked: Asked<StudbookQuery>, since: &str) -> Result<Response, Failure> {
    let says = "say a number of notes from 1 on, no larger than that of this read: known_at of an earlier export";
    let since = plain_number(since).filter(|since| (1..=asked.at.known_at).contains(since)).ok_or_else(|| Question::bad("since", says))?;
    let form = asked.form(&["json", "csv", "csvw"])?;
    if form == "csvw" {
        return described(&app, &asked, &changes::CHANGES, &format!("What changed in the studbook since {since} notes"));
    }
    if form == "csv" {
        let write = move |_: &App, asking: &Asking<'_>, out: &mut dyn Write| changes::write_csv(out, asking, since).map(drop);
        return streamed(app, &asked, (CSV, "studbook_changes.csv"), write).await;
    }
    app.catch_up().await?;
    let (as_of, known_at) = (asked.at.as_of, asked.at.known_at);
    let work = move |app: &App| changes::since(&asking(app, as_of, known_at), since);
    let found: Vec<RowChange> = app.blocking(work).await?;
    asked.answer_page(found, |change| change.animal.to_string())
}

/// For whom an archive is, and what it may say.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct DarwinCoreQuery {
    /// `gbif` (unless said otherwise) or `obis`: whose words it uses.
    pub target: Option<String>,
    /// `country`: say the collection's country, which is withheld otherwise.
    pub with: Option<String>,
}

/// A Darwin Core archive of the animals, all of them said to be captive; places, prices and people are
/// withheld.
#[utoipa::path(
    get, path = "/v1/exports/darwin-core", tag = "exports", params(ReadParams, DarwinCoreQuery),
    responses(
        (status = 200, description = "A zip: meta.xml, eml.xml and three tables", body = String, content_type = "application/zip"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn darwin_core_of(State(app): State<App>, asked: Asked<DarwinCoreQuery>) -> Result<Response, Failure> {
    asked.form(&["zip"])?;
    let wanted = wanted(&app, &asked.query)?;
    let from = provenance(&app, &asked)?;
    let write = move |_: &App, asking: &Asking<'_>, out: &mut dyn Write| darwin_core::write(out, asking, &wanted, &from);
    streamed(app, &asked, ("application/zip", darwin_core::ARCHIVE), write).await
}

fn wanted(app: &App, query: &DarwinCoreQuery) -> Result<darwin_core::For, Failure> {
    let target = query.target.as_deref().map_or(Some(Target::default()), Target::named);
    let target = target.ok_or_else(|| {
        let there_is = Target::ALL.map(Target::word).join(", ");
        Question::bad("target", format!("there is {there_is}"))
    })?;
    let country = match query.with.as_deref() {
        None => None,
        Some("country") => app.journal.published().founding().map(|founding| founding.country.clone()),
        Some(_) => return Err(Question::bad("with", "there is country; places below it, prices and people stay withheld").into()),
    };
    Ok(darwin_core::For { target, country })
}

/// What the forms of other programs cannot say of the pedigree.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Losses {
    /// Animals in the pedigree.
    pub animals: usize,
    /// One for each parent that a form leaves out.
    pub losses: Vec<Loss>,
}

/// The pedigree in forms that other programs read: `fam` (PLINK 1.9), `linkage` (before makeped), or `tar`:
/// both, with what they cannot say. `json` is that alone.
#[utoipa::path(
    get, path = "/v1/exports/pedigree", tag = "exports", params(ReadParams),
    responses((status = 200, body = Answered<Losses>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn pedigree_of(State(app): State<App>, asked: Asked<NoMore>) -> Result<Response, Failure> {
    let forms = ["json", "fam", "linkage", "tar"];
    match asked.form(&forms)? {
        "tar" => {
            let from = provenance(&app, &asked)?;
            packed(app, &asked, "pedigree.tar", move |asking, place| pedigree::write_all(place, &pedigree::lines(asking)?, &from)).await
        }
        "fam" => {
            let write = |_: &App, asking: &Asking<'_>, out: &mut dyn Write| {
                pedigree::write_fam(out, &pedigree::lines(asking)?, "", &mut |_| Ok(()))
            };
            streamed(app, &asked, (TEXT, "pedigree.fam"), write).await
        }
        "linkage" => {
            let write = |_: &App, asking: &Asking<'_>, out: &mut dyn Write| {
                pedigree::write_linkage(out, &pedigree::lines(asking)?, &mut |_| Ok(()))
            };
            streamed(app, &asked, (TEXT, "pedigree.pre"), write).await
        }
        _ => {
            let losses = losses(app, &asked).await?;
            asked.answer_as(&forms, losses)
        }
    }
}

async fn losses(app: App, asked: &Asked<NoMore>) -> Result<Losses, Failure> {
    app.catch_up().await?;
    let (as_of, known_at) = (asked.at.as_of, asked.at.known_at);
    let tell = move |app: &App| {
        let lines = pedigree::lines(&asking(app, as_of, known_at))?;
        let mut losses = Vec::new();
        pedigree::losses(&lines, &mut |loss| {
            losses.push(loss);
            Ok(())
        })?;
        Ok(Losses { animals: lines.len(), losses })
    };
    app.blocking(tell).await
}

/// A list of a year, with whether it adds up.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ListOfYear {
    /// The calendar year.
    pub year: i32,
    /// Its days, and how far the list reaches.
    #[schema(value_type = Object)]
    pub period: Period,
    /// The list, as the annual report has it; the stock list by presence: who was here.
    #[schema(value_type = Object)]
    pub list: Value,
    /// The stock list by ownership: who was ours, here or lent out.
    #[schema(value_type = Option<Object>)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub owned: Option<Value>,
    /// Whether the lists of the year may be called complete, and which lines do not add up.
    #[schema(value_type = Object)]
    pub completeness: Completeness,
}

/// The stock list of a year on both bases, as the annual report has it: JSON, CSV with a column for each sex
/// class, or `csvw`, the description of that.
#[utoipa::path(
    get, path = "/v1/exports/stock-list", tag = "exports", params(ReadParams, YearQuery),
    responses((status = 200, body = Answered<ListOfYear>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn stock_list(State(app): State<App>, asked: Asked<YearQuery>) -> Result<Response, Failure> {
    let (asked, report) = report(app.clone(), asked).await?;
    let lines = |list: &StockList| list.lines.iter().chain([&list.total]).cloned().collect::<Vec<_>>();
    let bases = [(BY_PRESENCE, lines(&report.stock)), (BY_OWNERSHIP, lines(&report.stock_owned))];
    let (list, owned) = (as_json(&report.stock)?, Some(as_json(&report.stock_owned)?));
    sent_list(&app, &asked, &report, "stock-list.csv", &bases, (list, owned))
}

/// The egg ledger of a year, as the annual report has it: JSON, CSV, or `csvw`, the description of that.
#[utoipa::path(
    get, path = "/v1/exports/egg-ledger", tag = "exports", params(ReadParams, YearQuery),
    responses((status = 200, body = Answered<ListOfYear>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn egg_ledger(State(app): State<App>, asked: Asked<YearQuery>) -> Result<Response, Failure> {
    let (asked, report) = report(app.clone(), asked).await?;
    let lines = report.ledger.lines.iter().chain([&report.ledger.total]).cloned().collect::<Vec<_>>();
    sent_list(&app, &asked, &report, "egg-ledger.csv", &[("egg ledger", lines)], (as_json(&report.ledger)?, None))
}

/// The forms of a list of a year.
const LIST_FORMS: [&str; 3] = ["json", "csv", "csvw"];

/// The report of the year that is asked for, told up to its end as the report itself is.
async fn report(app: App, mut asked: Asked<YearQuery>) -> Result<(Asked<YearQuery>, AnnualReport), Failure> {
    let missing = || Question::bad("year", "say which year the list is of, four digits such as 2026");
    let year = year(asked.query.year.as_deref().ok_or_else(missing)?)?;
    asked.form(&LIST_FORMS)?;
    if !asked.says("as_of") {
        asked.at.as_of = begun(year.into(), asked.at.zone, asked.at.as_of)?.until(asked.at.as_of);
    }
    let material = app.view(&asked.at, move |view| Ok(books(view, year.into())?)).await?;
    let report = compile(&identity(&app, &asked.at)?, &material)?;
    Ok((asked, report))
}

fn as_json(list: &impl Serialize) -> Result<Value, Failure> {
    serde_json::to_value(list).map_err(|error| Broken::new(format!("a list that is no JSON: {error}")).into())
}

fn sent_list<T: lists::Line>(
    app: &App,
    asked: &Asked<YearQuery>,
    report: &AnnualReport,
    file: &str,
    tables: &[(&str, Vec<T>)],
    (list, owned): (Value, Option<Value>),
) -> Result<Response, Failure> {
    match asked.form(&LIST_FORMS)? {
        "csv" => {
            let mut bytes = Vec::new();
            lists::Table::of(tables, report)?.write_csv(&mut bytes)?;
            Ok(sent(asked, CSV, file, bytes.into()))
        }
        "csvw" => {
            let title = format!("{} of {}", tables[0].0, report.year);
            let described = lists::Table::of(tables, report)?.described(file, &title, &provenance(app, asked)?);
            Ok(metadata(asked, file, &described))
        }
        _ => {
            let (year, period, completeness) = (report.year, report.period.clone(), report.completeness.clone());
            asked.answer_as(&LIST_FORMS, ListOfYear { year, period, list, owned, completeness })
        }
    }
}
