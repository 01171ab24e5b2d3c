//! Reads of the nursery: what the notes say of eggs, animals and tanks at two clocks.
//!
//! * [`eggs`], [`animals`], [`groups`], [`housing`]: one thing or all of its kind;
//! * [`house`]: instruments, places, food, rounds, incidents, consignments, loans, samples, documents;
//! * [`forecast`]: when cases may hatch; [`openings`]: what speaks for and against opening one;
//! * [`history`]: every note that names a thing;
//! * [`attention`]: what is due, and what is at odds; [`exposure`]: who shared water; [`water`]: readings over time; [`trays`]: proposals, sheets, labels;
//! * [`figures`]: hatch rates, rearing and the annual report; [`assisted`]: opened cases;
//! * [`curves`]: fates by age, loss timing, incubation, life table, pedigree;
//! * [`exports`]: the same for other people's tools.

pub mod eggs;

pub mod animals;

pub mod groups;

pub mod housing;

pub mod house;

pub mod forecast;

pub mod openings;

pub mod history;

pub mod attention;

pub mod exposure;

pub mod water;

pub mod trays;

pub mod figures;

pub mod assisted;

pub mod exports;

pub mod trade;

pub mod curves;

use super::app::App;
use super::asked::{Asked, NoMore};
use super::page::Item;
use crate::domain::view::View;
use crate::failure::{Failure, Question};
use axum::response::Response;
use selachron_schemas::names::Subject;
use serde::Serialize;

/// Answers with the one thing that `text` means: an id, a subject, or a label.
async fn one<T>(
    app: App,
    mut asked: Asked<NoMore>,
    noun: &'static str,
    text: String,
    state: impl Fn(&View<'_>, &Subject) -> Option<T> + Send + 'static,
) -> Result<Response, Failure>
where
    T: Serialize + Send + 'static,
{
    let find = move |view: &View<'_>| {
        let id = view.find(noun, &text)?;
        let item = state(view, &id).ok_or_else(|| nothing_stands(view, &id))?;
        Ok((item, view.withheld_behind(&id), view.suspected_behind(&id)))
    };
    let item;
    (item, asked.at.withheld, asked.at.suspected) = app.view(&asked.at, find).await?;
    asked.answer(Item { item })
}

fn nothing_stands(view: &View<'_>, id: &Subject) -> Question {
    let day = view.day(view.as_of());
    Question::NotFound(format!("no note that stands as of {day} says how {id} came; its history shows what there is"))
}

/// Answers with a page of the things of a noun, in the order of their ids; only those on the page
/// are worked out.
async fn many<T, Q>(
    app: App,
    asked: Asked<Q>,
    noun: &'static str,
    state: impl Fn(&View<'_>, &Subject) -> Option<T> + Send + 'static,
) -> Result<Response, Failure>
where
    T: Serialize + Send + 'static,
    Q: Send + Sync,
{
    let (after, limit) = (asked.after.clone().unwrap_or_default(), asked.limit);
    let cut = move |view: &View<'_>| {
        let following = view.subjects(noun).filter(|id| id.as_str() > after.as_str());
        let mut page: Vec<(String, T)> = following.filter_map(|id| Some((id.to_string(), state(view, id)?))).take(limit + 1).collect();
        let more = page.len() > limit;
        page.truncate(limit);
        let last = page.last().map(|(id, _)| id.clone()).filter(|_| more);
        Ok((page.into_iter().map(|(_, item)| item).collect(), last))
    };
    let (items, last): (Vec<T>, Option<String>) = app.view(&asked.at, cut).await?;
    asked.answer_listed(items, last)
}
