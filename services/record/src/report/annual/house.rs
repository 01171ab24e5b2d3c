//! What the house changed and what stood in its trays: hatch rates before and after a change of the rules,
//! places occupied, and times for which a water was outside its band.

use super::material::Year;
use super::table::{Behind, PartTable, number, words};
use super::window::Window;
use crate::domain::state::{Egg, EventId, Moment};
use crate::domain::told::Told;
use crate::report::figures::{Cohort, hatch_rates};
use crate::report::numbers::{WATER_DECIMALS, percent, percent_range, rounded};
use chrono::{Days, Months, NaiveDate};
use selachron_schemas::time::{HOUR_MS, Instant};
use serde_json::{Value, json};

/// So many days before and after a change are compared.
const BESIDE_A_CHANGE_DAYS: u64 = 180;

/// Hatch rates of the cases that came before and after each change of the house rules.
pub fn changes(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "changes",
        "Before and after changes of the house rules",
        "Cases found here in the 180 days before a change and from its day on for as long, as they stand. Much else changes with the season: this is \
         no comparison of like with like, and no test is made.",
        vec![
            words("changed_on", "Changed"),
            words("members", "what"),
            number("cases_before", "cases before"),
            number("hatched_before", "hatched"),
            words("rate_before", "rate or bounds"),
            number("cases_after", "cases after"),
            number("hatched_after", "hatched"),
            words("rate_after", "rate or bounds"),
        ],
    );
    let listed = window.view.nursery().index().policies.iter();
    for fact in listed.filter_map(|seq| window.view.fact(*seq)).filter(|fact| window.has(fact.moment())) {
        if !matches!(fact.told(), Told::PolicySet(_)) {
            continue;
        }
        let data: Value = serde_json::from_str(&fact.value.data).unwrap_or_default();
        let members: Vec<&str> =
            data.as_object().into_iter().flatten().map(|(name, _)| name.as_str()).filter(|name| *name != "remark").collect();
        let changed = window.view.day(fact.time());
        let (before, after) = beside(changed);
        let [cases_before, hatched_before, rate_before] = rate(window, before);
        let [cases_after, hatched_after, rate_after] = rate(window, after);
        let cells = [
            json!(changed),
            json!(members.join(", ").replace('_', " ")),
            cases_before,
            hatched_before,
            rate_before,
            cases_after,
            hatched_after,
            rate_after,
        ];
        table.row(cells, Behind::figure(address(before.0, after.1)).on([fact.note.id]));
    }
    table
}

type Dates = (NaiveDate, NaiveDate);

fn beside(changed: NaiveDate) -> (Dates, Dates) {
    let back = |days| changed.checked_sub_days(Days::new(days)).unwrap_or(changed);
    let on = changed.checked_add_days(Days::new(BESIDE_A_CHANGE_DAYS - 1)).unwrap_or(changed);
    ((back(BESIDE_A_CHANGE_DAYS), back(1)), (changed, on))
}

fn address(from: NaiveDate, to: NaiveDate) -> String {
    format!("/v1/figures/hatch-rates?from={from}&to={to}")
}

fn rate(window: &Window<'_, '_>, (from, to): Dates) -> [Value; 3] {
    let rates = hatch_rates(&window.now.eggs, &Cohort::between(from, to), window.view.zone(), false);
    let Some(rate) = rates.collected.first() else { return [json!(0), json!(0), Value::Null] };
    let told = match (rate.estimate, rate.bounds) {
        (Some(estimate), _) => json!(percent(estimate)),
        (_, Some(bounds)) => json!(percent_range(bounds)),
        _ => Value::Null,
    };
    [json!(rate.n), json!(rate.x), told]
}

/// How many cases stood in incubation at the end of each month, beside the places there are.
pub fn places(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "places",
        "Places occupied",
        "Cases taken in and open at the end of each month, and how many the places in trays hold at the end of these months; places without a \
         stated number count as one.",
        vec![words("on", "On"), number("cases", "cases"), number("places", "places")],
    );
    let places: u64 = window
        .closing_view
        .subjects("place")
        .filter_map(|id| window.closing_view.place(id))
        .map(|place| place.set_up.told.cases_max.map_or(1, |count| count.0))
        .sum();
    for end in month_ends(&window.days, window.span.until, window) {
        let cases: Vec<&Egg> = window.now.eggs.iter().filter(|egg| stands(egg, end)).collect();
        let cells = [json!(window.view.day(end)), json!(cases.len()), json!(places)];
        table.row(cells, Behind::default().on(cases.iter().filter_map(|egg| Some(egg.taken_in?.event))));
    }
    table
}

fn stands(egg: &Egg, at: Instant) -> bool {
    let ended = egg.fate.when().is_some_and(|when| when.time <= at);
    egg.taken_in.is_some_and(|taken| taken.time <= at) && !ended
}

/// The last instant of each month of the window that has come.
fn month_ends(days: &Year, until: Instant, window: &Window<'_, '_>) -> Vec<Instant> {
    let end = |months: u32| days.first_day.checked_add_months(Months::new(months))?.pred_opt();
    let ends = (1..=12).filter_map(end).map(|day| Instant::end_of_day(day, window.view.zone()));
    ends.take_while(|end| *end <= until).collect()
}

/// Times for which a water was outside its band.
pub fn water_episodes(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "water_episodes",
        "Water outside its band",
        "By probe: from the first reading outside to the first inside again. Begun in these months, or not over before them.",
        vec![
            words("water", "Water"),
            words("quantity", "quantity"),
            words("band", "band"),
            words("from", "from"),
            words("to", "to"),
            number("hours", "hours"),
            number("peak", "peak"),
            number("cases", "cases in it"),
        ],
    );
    for episode in window.closing_view.water_episodes() {
        let over_before = episode.end.is_some_and(|end| end.time < window.span.from);
        if over_before {
            continue;
        }
        let until = episode.end.map_or(window.span.until, |end| end.time);
        let hours = (until.0 - episode.start.time.0) as f64 / HOUR_MS as f64;
        let limit = |limit: Option<f64>| limit.map_or_else(|| "…".to_owned(), |limit| limit.to_string());
        let cells = [
            json!(episode.label),
            json!(episode.quantity.name()),
            json!(format!("{} to {}", limit(episode.band.told.low), limit(episode.band.told.high))),
            json!(episode.start.time.utc_text()),
            json!(episode.end.map_or_else(|| episode.state.to_owned(), |end| end.time.utc_text())),
            json!(rounded(hours, 1)),
            json!(rounded(episode.peak.value, WATER_DECIMALS)),
            json!(episode.eggs.len()),
        ];
        let moments: [Option<Moment>; 4] = [episode.not_before, Some(episode.start), Some(episode.peak.when), episode.end];
        let events: Vec<EventId> = moments.into_iter().flatten().map(|moment| moment.event).collect();
        table.row(cells, Behind::of(&episode.water).on(events));
    }
    table
}
