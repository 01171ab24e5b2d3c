//! `GET /v1/figures/…`: what the notes come to.

use crate::domain::view::View;
use crate::failure::{Failure, Question};
use crate::http::app::App;
use crate::http::asked::{Asked, ReadParams};
use crate::http::page::Answered;
use crate::http::problem::Problem;
use crate::report::annual::material::Year;
use crate::report::draw;
use crate::report::figures::{Cohort, HatchRates, Rearing, Watch, hatch_rates, rearing};
use axum::extract::State;
use axum::response::Response;
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::limits::{YEAR_MAX, YEAR_MIN};
use selachron_schemas::names::Subject;
use serde::{Deserialize, Serialize};
use utoipa::IntoParams;

/// Which cases or young a figure is about; what is not said is not limited.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct CohortQuery {
    /// A calendar year of the collection: the year in which cases came, or young hatched.
    pub year: Option<String>,
    /// First day, such as 2026-03-01; not together with `year`.
    pub from: Option<String>,
    /// Last day, itself included; not together with `year`.
    pub to: Option<String>,
    /// A species, by id, subject or name.
    pub species: Option<String>,
    /// A dam, by id, subject or label; counted is only where she is known.
    pub dam: Option<String>,
}

impl CohortQuery {
    /// The cohort that is meant.
    pub(super) fn cohort(&self, view: &View<'_>) -> Result<Cohort, Failure> {
        let (from, to) = self.days(view.zone())?;
        let find = |noun, text: &Option<String>| text.as_deref().map(|text| view.find(noun, text)).transpose();
        let (species, dam): (Option<Subject>, Option<Subject>) = (find("species", &self.species)?, find("animal", &self.dam)?);
        Ok(Cohort { from, to, species, dam })
    }

    /// The same where nothing but a species can be asked for.
    pub(super) fn only_species(&self) -> Result<&Self, Question> {
        let named = [("year", &self.year), ("from", &self.from), ("to", &self.to), ("dam", &self.dam)];
        match named.into_iter().find(|(_, given)| given.is_some()) {
            Some((name, _)) => Err(Question::bad(name, "kinship is that of all animals of a species; leave this out")),
            None => Ok(self),
        }
    }

    fn days(&self, zone: Tz) -> Result<(Option<NaiveDate>, Option<NaiveDate>), Question> {
        let Some(text) = &self.year else {
            let (from, to) = (day("from", self.from.as_deref())?, day("to", self.to.as_deref())?);
            return match (from, to) {
                (Some(from), Some(to)) if from > to => Err(Question::bad("to", format!("{to} lies before from, {from}"))),
                days => Ok(days),
            };
        };
        if self.from.is_some() || self.to.is_some() {
            return Err(Question::bad("year", "ask for a year, or for days with from and to, not for both"));
        }
        let year = year(text)?;
        let days = Year::of(year.into(), zone).ok_or_else(|| no_year(text))?;
        Ok((Some(days.first_day), Some(days.last_day)))
    }
}

fn day(name: &str, text: Option<&str>) -> Result<Option<NaiveDate>, Question> {
    let read = |text: &str| NaiveDate::parse_from_str(text, "%Y-%m-%d").ok().filter(|_| text.len() == "2026-03-01".len());
    text.map(|text| read(text).ok_or_else(|| Question::bad(name, format!("{text:?} is not a date like 2026-03-01")))).transpose()
}

pub(super) fn year(text: &str) -> Result<i32, Question> {
    let digits = text.len() == 4 && text.bytes().all(|byte| byte.is_ascii_digit());
    let year = text.parse().ok().filter(|year| digits && (YEAR_MIN..=YEAR_MAX).contains(year));
    year.ok_or_else(|| no_year(text))
}

fn no_year(text: &str) -> Question {
    Question::bad("year", format!("{text:?} is not a year from {YEAR_MIN} to {YEAR_MAX}, such as 2026"))
}

/// Four hatch rates by the day cases came, each with its denominator; `format=svg` draws them.
#[utoipa::path(
    get, path = "/v1/figures/hatch-rates", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<HatchRates>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn hatch_rates_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    let query = asked.query.clone();
    let make = move |view: &View<'_>, explain| Ok(hatch_rates(&view.eggs(), &query.cohort(view)?, view.zone(), explain));
    figure(&app, &asked, make, |rates: &HatchRates| Ok(draw::hatch_rates(rates, "Hatch rates", "hatch-rates"))).await
}

/// Survival of young from hatch, by the day they hatched; `format=svg` draws the curve.
#[utoipa::path(
    get, path = "/v1/figures/rearing", tag = "figures", params(ReadParams, CohortQuery),
    responses((status = 200, body = Answered<Rearing>), (status = "default", body = Problem, content_type = "application/problem+json"))
)]
pub async fn rearing_of(State(app): State<App>, asked: Asked<CohortQuery>) -> Result<Response, Failure> {
    let query = asked.query.clone();
    let make = move |view: &View<'_>, explain| Ok(rearing(&view.animals(), &view.eggs(), &query.cohort(view)?, watch(view), explain));
    figure(&app, &asked, make, |found: &Rearing| Ok(draw::rearing(found, "Survival of the young from hatch", "rearing"))).await
}

/// How young are watched.
pub(super) fn watch(view: &View<'_>) -> Watch {
    Watch { as_of: view.as_of(), zone: view.zone(), unseen_days_max: view.policy().unseen_days_max }
}

/// Makes a figure at the two clocks and answers with it, or with its drawing where that was asked
/// for; `make` gets whether the notes are wanted. Where a drawing can show only one species and there
/// are several, the question is sent back.
pub(super) async fn figure<Q, T, Make>(
    app: &App,
    asked: &Asked<Q>,
    make: Make,
    drawing: fn(&T) -> Result<String, String>,
) -> Result<Response, Failure>
where
    T: Serialize + Send + 'static,
    Make: FnOnce(&View<'_>, bool) -> Result<T, Failure> + Send + 'static,
{
    let (form, explain) = (asked.form(&["json", "svg"])?, asked.explain);
    let found = app.view(&asked.at, move |view| make(view, explain)).await?;
    if form != "svg" {
        return asked.answer_as(&["json", "svg"], found);
    }
    let svg = drawing(&found).map_err(|says| Question::bad("species", says))?;
    Ok(asked.answer_drawn(&svg))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(query: CohortQuery) -> Result<(Option<NaiveDate>, Option<NaiveDate>), String> {
        query.days(Tz::UTC).map_err(|question| question.to_string())
    }

    fn some(text: &str) -> Option<String> {
        Some(text.to_owned())
    }

    #[test]
    fn a_year_is_its_first_and_last_day() {
        let found = days(CohortQuery { year: some("2026"), ..Default::default() }).expect("a year");
        assert_eq!(found, (NaiveDate::from_ymd_opt(2026, 1, 1), NaiveDate::from_ymd_opt(2026, 12, 31)));
    }

    #[test]
    fn what_is_wrong_is_named() {
        for (query, wanted) in [
            (CohortQuery { year: some("26"), ..Default::default() }, "year: "),
            (CohortQuery { year: some("2026"), to: some("2026-03-01"), ..Default::default() }, "year: "),
            (CohortQuery { from: some("1 March"), ..Default::default() }, "from: "),
            (CohortQuery { from: some("2026-03-02"), to: some("2026-03-01"), ..Default::default() }, "to: "),
            (CohortQuery { to: some("2026-02-30"), ..Default::default() }, "to: "),
        ] {
            let said = days(query.clone()).expect_err("something is wrong");
            assert!(said.starts_with(wanted), "{query:?}: {said}");
        }
    }
}
