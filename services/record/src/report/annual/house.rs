//! What the house changed and what stood in its trays: hatch rates before and after a named change,
//! places occupied, and times for which a water was outside its band.

use super::material::Year;
use super::table::{Behind, PartTable, number, words};
use super::window::Window;
use crate::domain::state::{Absence, Egg, EggOrigin, EventId, Moment, Noted, ParentStatus, PlaceSetUp};
use crate::domain::told::Told;
use crate::domain::told_house::House;
use crate::domain::view::Fact;
use crate::report::figures::{Cohort, hatch_rates};
use crate::report::numbers::{WATER_DECIMALS, percent, percent_range, rounded};
use chrono::{Days, Months, NaiveDate};
use selachron_schemas::names::Subject;
use selachron_schemas::time::{HOUR_MS, Instant};
use serde_json::{Value, json};

/// So many days before and after a change are compared.
const BESIDE_A_CHANGE_DAYS: u64 = 180;

/// Hatch rates of the cases that came before and after each named change: what a note says is so from then
/// on, the house rules, a diet, the light over a tank, the system that a tank belongs to. Water changes are
/// no such change: they are over when they are done. Each side is a row, so that each can be asked by itself.
pub fn changes(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "changes",
        "Before and after named changes",
        "House rules, diets, light, and tanks that got another system's water. Cases found here in the 180 days before a change and from its day \
         on for as long, as they stand: for a tank those found in it or standing in it on that side of the change, for an animal those that are \
         known to be hers. Much else changes with the season: this is no comparison of like with like, and no test is made.",
        vec![
            words("changed_on", "Changed"),
            words("what", "what"),
            words("side", "cases that came"),
            number("cases", "cases"),
            number("hatched", "hatched"),
            words("rate", "rate or bounds"),
        ],
    );
    for fact in named_changes(window) {
        let changed = window.view.day(fact.time());
        let (before, after) = beside(changed);
        for (side, days) in [("before", before), ("from then on", after)] {
            let concerned = concerned(window, fact.subject(), days, (side == "before", fact.time()));
            let [cases, hatched, rate] = rate(window, &concerned, days);
            let cells = [json!(changed), json!(what(window, &fact)), json!(side), cases, hatched, rate];
            table.row(cells, behind(fact.subject(), &concerned, days).on([fact.note.id]));
        }
    }
    table
}

/// Where a side is explained: of a change for all by the figure of its days, else by the notes of its cases.
fn behind(subject: &Subject, concerned: &[Egg], (from, to): Dates) -> Behind {
    if *subject == Subject::collection() {
        return Behind::figure(format!("/v1/figures/hatch-rates?from={from}&to={to}"));
    }
    let moments = concerned.iter().flat_map(|egg| [Some(egg.came), egg.fate.when()]);
    Behind::of(subject).on(moments.flatten().map(|moment| moment.event))
}

/// Cases found here on those days, and on which a change about that subject may bear.
fn concerned(window: &Window<'_, '_>, subject: &Subject, (from, to): Dates, (before, changed): (bool, Instant)) -> Vec<Egg> {
    let zone = window.view.zone();
    let (start, end) = if before { (Instant::start_of_day(from, zone), changed) } else { (changed, Instant::end_of_day(to, zone)) };
    let came = |egg: &&Egg| (from..=to).contains(&window.view.day(egg.came.time));
    let bears_on = |egg: &&Egg| match subject.noun() {
        "tank" => {
            let found_in = matches!(&egg.origin, EggOrigin::Collected { from_tank: Some(tank), .. } if tank == subject);
            found_in || window.view.stood_in(&egg.id, subject, start, end)
        }
        "animal" => egg.dam.status == ParentStatus::Known && egg.dam.animals.first().is_some_and(|dam| dam.animal == *subject),
        _ => true,
    };
    let collected = |egg: &&Egg| matches!(egg.origin, EggOrigin::Collected { .. });
    window.now.eggs.iter().filter(collected).filter(came).filter(bears_on).cloned().collect()
}

/// Changes within the months, in order of time.
fn named_changes<'a>(window: &Window<'_, 'a>) -> Vec<Fact<'a>> {
    let view = window.view;
    let rules = view.nursery().index().policies.iter().filter_map(|seq| view.fact(*seq));
    let keepers = view.subjects("tank").chain(view.subjects("animal"));
    let standing = |fact: &Fact<'_>| matches!(fact.house(), Some(House::DietSet(_) | House::LightSet(_) | House::TankJoined(_)));
    let of =
        |id: &Subject| view.facts_but_routine(id).into_iter().filter(|fact| fact.subject() == id && standing(fact)).collect::<Vec<_>>();
    let mut all: Vec<Fact<'a>> = rules.filter(|fact| matches!(fact.told(), Told::PolicySet(_))).chain(keepers.flat_map(of)).collect();
    all.retain(|fact| window.has(fact.moment()));
    all.sort_by_key(|fact| (fact.time(), fact.note.seq));
    all
}

/// What changed, in words.
fn what(window: &Window<'_, '_>, fact: &Fact<'_>) -> String {
    let name = window.view.called(fact.subject());
    match fact.house() {
        Some(House::DietSet(told)) => {
            let foods: Vec<&str> = told.foods.iter().map(|food| food.food.as_str()).collect();
            format!("diet of {name}: {}", foods.join(", "))
        }
        Some(House::LightSet(told)) => format!("light over {name}: {}", told.light),
        Some(House::TankJoined(told)) => {
            let system = told.system.as_ref().map_or_else(|| "water of its own".to_owned(), |system| window.view.called(&system.0));
            format!("water of {name}: {system}")
        }
        _ => {
            let data: Value = serde_json::from_str(&fact.value.data).unwrap_or_default();
            let members = data.as_object().into_iter().flatten().map(|(name, _)| name.as_str()).filter(|name| *name != "remark");
            format!("house rules: {}", members.collect::<Vec<_>>().join(", ").replace('_', " "))
        }
    }
}

type Dates = (NaiveDate, NaiveDate);

fn beside(changed: NaiveDate) -> (Dates, Dates) {
    let back = |days| changed.checked_sub_days(Days::new(days)).unwrap_or(changed);
    let on = changed.checked_add_days(Days::new(BESIDE_A_CHANGE_DAYS - 1)).unwrap_or(changed);
    ((back(BESIDE_A_CHANGE_DAYS), back(1)), (changed, on))
}

fn rate(window: &Window<'_, '_>, eggs: &[Egg], (from, to): Dates) -> [Value; 3] {
    let rates = hatch_rates(eggs, &Cohort::between(from, to), window.view.zone(), false);
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
        "Cases taken in and open at the end of each month, as they stood at the end of these months, and how many the places of trays in use \
         hold then; places without a stated number count as one.",
        vec![words("on", "On"), number("cases", "cases"), number("places", "places")],
    );
    let set_up: Vec<Noted<PlaceSetUp>> = window.closing_view.places_in_use().into_iter().map(|(_, set_up)| set_up).collect();
    let places: u64 = set_up.iter().map(|place| place.told.cases_max.map_or(1, |count| count.0)).sum();
    for end in month_ends(&window.days, window.span.until, window) {
        let cases: Vec<&Egg> = window.closing.eggs.iter().filter(|egg| stands(egg, end)).collect();
        let told = [json!(window.view.day(end)), json!(cases.len()), json!(places)];
        let taken_in = cases.iter().filter_map(|egg| Some(egg.taken_in?.event));
        table.row(told, Behind::default().on(taken_in.chain(set_up.iter().map(|place| place.when.event))));
    }
    table
}

fn stands(egg: &Egg, at: Instant) -> bool {
    let ended = egg.fate.when().is_some_and(|when| when.time <= at);
    let away = |absence: &Absence| absence.since.time <= at && absence.found.is_none_or(|found| found.time > at);
    egg.taken_in.is_some_and(|taken| taken.time <= at) && !ended && !egg.absences.iter().any(away)
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
        "By probe: from the first reading outside to the first inside again. Begun in these months, or not over before them; hours: those \
         within these months.",
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
        let began = episode.start.time.max(window.span.from);
        let hours = (until.0 - began.0) as f64 / HOUR_MS as f64;
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
