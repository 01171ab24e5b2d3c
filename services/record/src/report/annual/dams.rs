//! Per dam, per tank of adults, and the days between the pairs of a dam.

use super::table::{Behind, PartColumn, PartTable, number, words};
use super::window::Window;
use crate::domain::parents::Parent;
use crate::domain::state::{Egg, EggFate, EggOrigin, EventId, ParentStatus};
use crate::report::numbers::rounded;
use chrono::NaiveDate;
use selachron_schemas::names::Subject;
use selachron_schemas::time::whole_days;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Decimals of shares of cases.
const SHARE_DECIMALS: u32 = 2;

/// Sums of cases, each counted by its share.
#[derive(Default)]
struct Sums {
    cases: f64,
    hatched: f64,
    dead: f64,
    open: f64,
    other: f64,
    events: Vec<EventId>,
}

impl Sums {
    fn add(&mut self, egg: &Egg, share: f64) {
        self.cases += share;
        match &egg.fate {
            EggFate::Hatched { .. } | EggFate::YoungNotFound { .. } => self.hatched += share,
            EggFate::Lost { .. } => self.dead += share,
            EggFate::Open => self.open += share,
            _ => self.other += share,
        }
        self.events.push(egg.came.event);
        self.events.extend(egg.fate.when().map(|when| when.event));
    }

    /// Cases, and each end; these add up to the cases.
    fn told(&self) -> [Value; 5] {
        [self.cases, self.hatched, self.dead, self.open, self.other].map(|sum| json!(rounded(sum, SHARE_DECIMALS)))
    }
}

/// The columns of [`Sums::told`].
fn ends() -> [PartColumn; 5] {
    [
        number("cases", "cases"),
        number("hatched", "hatched"),
        number("dead", "dead"),
        number("open", "open"),
        number("other_end", "other end"),
    ]
}

/// Cases found here in the months.
fn found<'w>(window: &'w Window<'_, '_>) -> impl Iterator<Item = &'w Egg> {
    window.now.eggs.iter().filter(|egg| matches!(egg.origin, EggOrigin::Collected { .. }) && window.has(egg.came))
}

/// Cases of the months by dam; a case with several candidates counts by their weights.
pub fn per_dam(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "per_dam",
        "Cases by dam",
        "Cases found here in these months, as they stand. Where several dams may have laid a case each counts by her weight, so that the sums \
         are those of the cases, to two decimals; cases of which no dam is named stand in the last line. Hatched: cases found empty too. Other \
         end: put down by decision, sent out, sampled, removed or missing.",
        std::iter::once(words("dam", "Dam")).chain(ends()).collect(),
    );
    let mut by_dam: BTreeMap<Subject, Sums> = BTreeMap::new();
    let mut nobody = Sums::default();
    for egg in found(window) {
        // As studbook and pedigree weigh them.
        match window.view.parents_of_case(egg).dam {
            Parent { status: ParentStatus::Known | ParentStatus::Candidates, animals, .. } if !animals.is_empty() => {
                for one in animals {
                    by_dam.entry(one.animal).or_default().add(egg, one.weight);
                }
            }
            _ => nobody.add(egg, 1.0),
        }
    }
    for (dam, sums) in &by_dam {
        let [cases, hatched, dead, open, other] = sums.told();
        table.row([window.called(dam), cases, hatched, dead, open, other], Behind::of(dam).on(sums.events.iter().copied()));
    }
    if nobody.cases > 0.0 {
        let [cases, hatched, dead, open, other] = nobody.told();
        table.row([json!("not known"), cases, hatched, dead, open, other], Behind::default().on(nobody.events));
    }
    table
}

/// Cases of the months by the tank in which they were laid: the breeding group.
pub fn per_group(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "per_group",
        "Cases by breeding group",
        "Cases found here in these months, as they stand, by the tank of the adults; who was in it is told by the tank's history. The ends \
         as in the table by dam.",
        [words("tank", "Tank of the adults"), words("species", "species")].into_iter().chain(ends()).collect(),
    );
    let mut by_tank: BTreeMap<(Option<&Subject>, Option<&Subject>), Sums> = BTreeMap::new();
    for egg in found(window) {
        let EggOrigin::Collected { from_tank, .. } = &egg.origin else { continue };
        by_tank.entry((from_tank.as_ref(), egg.species.as_ref())).or_default().add(egg, 1.0);
    }
    for ((tank, species), sums) in by_tank {
        let [cases, hatched, dead, open, other] = sums.told();
        let called = tank.map_or_else(|| json!("not known"), |tank| window.called(tank));
        let behind = tank.map_or_else(Behind::default, Behind::of).on(sums.events);
        table.row([called, window.species(species), cases, hatched, dead, open, other], behind);
    }
    table
}

/// Layings of one dam: a clutch once, a case without one by itself.
struct Laying {
    day: NaiveDate,
    event: EventId,
}

/// Days between the layings of each known dam that has two or more in the months.
pub fn between_pairs(window: &Window<'_, '_>) -> PartTable {
    let mut table = PartTable::new(
        "between_pairs",
        "Days between pairs",
        "Of dams that are known. Cases of one clutch, or found on one day, are one laying; the day is the last on which it can have been. \
         Where searches are far apart the days are no better than these.",
        vec![
            words("dam", "Dam"),
            number("layings", "layings"),
            number("days_min", "fewest days"),
            number("days_median", "median"),
            number("days_max", "most"),
        ],
    );
    for (dam, layings) in layings(window) {
        let mut gaps: Vec<i64> = layings.windows(2).map(|pair| whole_days(pair[0].day, pair[1].day)).collect();
        gaps.sort_unstable();
        let Some((least, most)) = gaps.first().zip(gaps.last()) else { continue };
        let middle = gaps.len() / 2;
        let median = if gaps.len() % 2 == 1 { gaps[middle] as f64 } else { (gaps[middle - 1] + gaps[middle]) as f64 / 2.0 };
        let cells = [window.called(dam), json!(layings.len()), json!(least), json!(median), json!(most)];
        table.row(cells, Behind::of(dam).on(layings.iter().map(|laying| laying.event)));
    }
    table
}

fn layings<'w>(window: &'w Window<'_, '_>) -> BTreeMap<&'w Subject, Vec<Laying>> {
    let mut by_clutch: BTreeMap<(&Subject, String), Laying> = BTreeMap::new();
    for egg in found(window).filter(|egg| egg.dam.status == ParentStatus::Known) {
        let Some(dam) = egg.dam.animals.first() else { continue };
        let day = window.view.day(egg.laid_window.not_after);
        let one = egg.clutch.as_ref().map_or_else(|| day.to_string(), ToString::to_string);
        let laying = Laying { day, event: egg.came.event };
        by_clutch
            .entry((&dam.animal, one))
            .and_modify(|known| {
                if day < known.day {
                    *known = Laying { day, event: egg.came.event };
                }
            })
            .or_insert(laying);
    }
    let mut by_dam: BTreeMap<&Subject, Vec<Laying>> = BTreeMap::new();
    for ((dam, _), laying) in by_clutch {
        by_dam.entry(dam).or_default().push(laying);
    }
    for layings in by_dam.values_mut() {
        layings.sort_by_key(|laying| (laying.day, laying.event));
        layings.dedup_by_key(|laying| laying.day);
    }
    by_dam
}
