//! Opened cases: a description by default, and on request a comparison that does not mistake the
//! past for an effect.
//!
//! Cases are opened because they are overdue or weak (confounding by indication), and must live to
//! be opened (immortal time). So the figure never shows the survival of young from opened cases
//! beside that of unaided ones. The comparison asks from a day on at which cases are eligible: once
//! with the opening as a late entry (every case counts as not opened until it is), once from a
//! landmark (grouped by what was done until then, followed from there). Both leave the first bias as
//! it is, and say so. On simulated eggs for which opening has no effect the naive comparison gives a
//! chi-square of 565, these two p = 0.89 and 0.36 (`tests/reference/immortal_time.expected.json`).

use super::{Absent, Cohort};
use crate::domain::state::{Animal, AnimalFate, Egg, EggFate, LifeState};
use crate::report::numbers::{self, Limits};
use chrono::NaiveDate;
use chrono_tz::Tz;
use selachron_schemas::names::Subject;
use selachron_schemas::time::{Instant, whole_days};
use selachron_statistics::proportion::wilson;
use selachron_statistics::reason::Error;
use selachron_statistics::{Design, Grouped, Level, Row, log_rank};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// The young are followed so long after the hatch, in days.
const FOLLOWED_DAYS: [i64; 2] = [30, 90];

/// Days after eligibility within which an opening counts at the landmark, unless asked otherwise
/// (a convention of this project).
const WITHIN_DAYS: u32 = 14;

/// Fewer events expected in a group give no p that means anything (STATISTICS 3.3).
const EXPECTED_MIN: f64 = 5.0;

/// What belongs beside every number here.
pub const CAVEAT: &str = "Never read as the effect of opening: cases are opened because they are overdue or weak, so that those opened and those \
    left differ before anything is done; and cases of one clutch share dam, tank and mishap. A trial on animals is research: only under the \
    institution's ethical review and the law.";

/// Opened cases of a cohort.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Assisted {
    /// Which cases are meant, by the day they came.
    pub cohort: Cohort,
    /// [`CAVEAT`].
    pub caveat: String,
    /// Cases opened while not known dead.
    pub opened: u64,
    /// Urgent ones among them, by reason.
    pub urgent: BTreeMap<String, u64>,
    /// By extent of the first opening.
    pub extents: BTreeMap<String, u64>,
    /// By the band last seen before; `not seen` where none was.
    pub bands: BTreeMap<String, u64>,
    /// Whole days since laying at the first opening: fewest, median, most.
    pub age_days: Option<[i64; 3]>,
    /// By what became of the case.
    pub outcomes: BTreeMap<String, u64>,
    /// Of the young of opened cases, how many lived so long; without a p, and not beside others.
    pub young: Vec<YoungLived>,
    /// Choices to leave a case that could have been opened.
    pub left_to_hatch: u64,
    /// On request: from so many days after laying on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comparison: Option<Comparison>,
}

/// How many young of opened cases lived so many days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct YoungLived {
    /// Days since the hatch.
    pub days: i64,
    /// Lived so long.
    pub lived: u64,
    /// Of whom it is known whether they did.
    pub judged: u64,
    /// Too young, or left, or not seen since.
    pub not_known: u64,
    /// Wilson 95 %, 4 decimals.
    #[schema(value_type = Option<Vec<f64>>)]
    pub wilson_95: Option<Limits>,
}

/// A comparison from a day on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Comparison {
    /// Whole days since laying from which a case still in its case and not opened is eligible.
    pub from_days: u32,
    /// Days after that by which an opening counts at the landmark.
    pub within_days: u32,
    /// What counts as the event.
    pub event: String,
    /// Cases that were eligible.
    pub eligible: u64,
    /// Every case counts as not opened until it is opened.
    pub time_dependent: Compared,
    /// Grouped by what was done by the landmark, followed from it.
    pub landmark: Compared,
}

/// Two groups, with a test where there is enough of both.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Compared {
    /// Opened.
    pub opened: Group,
    /// Not opened.
    pub not_opened: Group,
    /// Log-rank statistic with late entry, 3 decimals.
    pub chi2: Option<f64>,
    /// Its p, 4 decimals; too small where cases share clutches.
    pub p: Option<f64>,
    /// Why there is none.
    pub absent: Option<Absent>,
}

/// One group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Group {
    /// Rows: a case that is opened later stands in both groups, one after the other.
    pub n: u64,
    /// Events.
    pub events: u64,
    /// Events expected if both groups shared one hazard, 2 decimals.
    pub expected: Option<f64>,
    /// Whole days under observation.
    pub days: i64,
}

/// What is asked.
#[derive(Debug, Clone, Copy, Default)]
pub struct AskedOfAssisted {
    /// From which day on cases are eligible; no comparison without it.
    pub from_days: Option<u32>,
    /// Until when an opening counts at the landmark.
    pub within_days: Option<u32>,
}

/// One case on the scale of whole days since the last day on which it can have been laid.
struct Course {
    entry: i64,
    exit: i64,
    /// Died: in the case, or its young within the first days followed.
    event: bool,
    opened: Option<i64>,
    /// Out of the case, or ended.
    ended: Option<i64>,
}

/// Opened cases of a cohort, at V.
#[must_use]
pub fn assisted(eggs: &[Egg], animals: &[Animal], cohort: &Cohort, asked: AskedOfAssisted, zone: Tz) -> Assisted {
    let meant: Vec<&Egg> =
        eggs.iter().filter(|egg| cohort.covers(egg.came.time.day(zone), egg.species.as_ref()) && cohort.has_dam(&egg.dam)).collect();
    let young: BTreeMap<&Subject, &Animal> = animals.iter().map(|animal| (&animal.id, animal)).collect();
    let opened: Vec<&Egg> = meant.iter().copied().filter(|egg| first_opening(egg).is_some()).collect();
    let mut ages: Vec<i64> = opened.iter().filter_map(|egg| Some(age(egg, first_opening(egg)?.when.time, zone))).collect();
    ages.sort_unstable();
    let count = |word: &dyn Fn(&Egg) -> Option<String>| {
        let mut counts = BTreeMap::new();
        opened.iter().filter_map(|egg| word(egg)).for_each(|word| *counts.entry(word).or_insert(0) += 1);
        counts
    };
    Assisted {
        cohort: cohort.clone(),
        caveat: CAVEAT.to_owned(),
        opened: opened.len() as u64,
        urgent: count(&|egg| first_opening(egg)?.urgent_reason.clone()),
        extents: count(&|egg| Some(first_opening(egg)?.extent.clone())),
        bands: count(&|egg| Some(band_before(egg).map_or_else(|| "not seen".to_owned(), |band| band.to_string()))),
        age_days: ages.first().zip(ages.last()).map(|(first, last)| [*first, ages[ages.len() / 2], *last]),
        outcomes: count(&|egg| Some(outcome(&egg.fate).to_owned())),
        young: FOLLOWED_DAYS.map(|days| lived(&opened, &young, days, zone)).to_vec(),
        left_to_hatch: meant.iter().map(|egg| egg.left_to_hatch.len() as u64).sum(),
        comparison: asked.from_days.map(|from| {
            let courses: Vec<Course> = meant.iter().filter_map(|egg| course(egg, &young, zone)).collect();
            comparison(&courses, from, asked.within_days.unwrap_or(WITHIN_DAYS))
        }),
    }
}

fn first_opening(egg: &Egg) -> Option<&crate::domain::state::Opening> {
    egg.openings.iter().find(|opening| !opening.known_dead)
}

fn band_before(egg: &Egg) -> Option<u8> {
    let opened = first_opening(egg)?.when.time;
    egg.looks.iter().rev().filter(|look| look.seen_into && look.when.time <= opened).find_map(|look| look.band)
}

fn outcome(fate: &EggFate) -> &'static str {
    match fate {
        EggFate::Open => "still in the case",
        EggFate::Hatched { .. } => "hatched",
        EggFate::YoungNotFound { .. } => "found empty",
        EggFate::Lost { .. } | EggFate::DeadOnArrival { .. } => "lost",
        EggFate::PutDown { .. } => "put down",
        EggFate::Missing { .. } => "missing",
        EggFate::Removed { .. } => "left",
    }
}

fn day_of_laying(egg: &Egg, zone: Tz) -> NaiveDate {
    egg.laid_window.not_after.day(zone)
}

fn age(egg: &Egg, time: Instant, zone: Tz) -> i64 {
    whole_days(day_of_laying(egg, zone), time.day(zone))
}

/// Young of opened cases that hatched alive, by whether they lived so long.
fn lived(opened: &[&Egg], young: &BTreeMap<&Subject, &Animal>, days: i64, zone: Tz) -> YoungLived {
    let mut told = YoungLived { days, lived: 0, judged: 0, not_known: 0, wilson_95: None };
    let hatched = opened.iter().flat_map(|egg| match &egg.fate {
        EggFate::Hatched { young, .. } => young.as_slice(),
        _ => &[],
    });
    for animal in hatched.filter(|young| young.alive).filter_map(|one| young.get(&one.animal)) {
        let since = animal.came.time.day(zone);
        let until = |time: Instant| whole_days(since, time.day(zone));
        let seen = animal.last_seen_alive.map_or(0, |when| until(when.time));
        match died(animal).map(until) {
            Some(age) if age <= days => told.judged += 1,
            Some(_) => (told.judged, told.lived) = (told.judged + 1, told.lived + 1),
            None if seen >= days => (told.judged, told.lived) = (told.judged + 1, told.lived + 1),
            None => told.not_known += 1,
        }
    }
    told.wilson_95 = wilson(told.lived, told.judged, Level::P95).ok().map(numbers::limits);
    told
}

fn died(animal: &Animal) -> Option<Instant> {
    match &animal.fate {
        AnimalFate::Died { when, .. } | AnimalFate::Departed { when, alive: LifeState::Dead, .. } => Some(when.time),
        _ => None,
    }
}

/// `None` where a case was never at risk here.
fn course(egg: &Egg, young: &BTreeMap<&Subject, &Animal>, zone: Tz) -> Option<Course> {
    let at = |time: Instant| age(egg, time, zone);
    let entry = at(egg.came.time).max(0);
    let opened = first_opening(egg).map(|opening| at(opening.when.time));
    let ended = egg.fate.when().map(|when| at(when.time));
    let seen = egg.last_seen_alive.map_or(entry, |when| at(when.time)).max(opened.unwrap_or(entry));
    let (exit, event) = match &egg.fate {
        EggFate::DeadOnArrival { .. } => return None,
        EggFate::Open | EggFate::Missing { .. } => (seen, false),
        EggFate::Lost { when, .. } => (at(when.time), true),
        EggFate::Hatched { when, young: named, .. } => after_hatch(at(when.time), named, young, zone),
        EggFate::YoungNotFound { when, .. } | EggFate::PutDown { when, .. } | EggFate::Removed { when, .. } => (at(when.time), false),
    };
    (exit > entry).then_some(Course { entry, exit, event, opened, ended })
}

/// Until the last young of a case died, or the days followed are over, or it was last seen.
fn after_hatch(hatched: i64, named: &[crate::domain::state::Young], young: &BTreeMap<&Subject, &Animal>, zone: Tz) -> (i64, bool) {
    let [followed, _] = FOLLOWED_DAYS;
    let fates = named.iter().filter(|one| one.alive).filter_map(|one| young.get(&one.animal)).map(|animal| {
        let until = |time: Instant| whole_days(animal.came.time.day(zone), time.day(zone));
        let death = died(animal).map(until).filter(|age| *age <= followed);
        let seen = animal.last_seen_alive.map_or(0, |when| until(when.time)).clamp(0, followed);
        death.map_or((seen, false), |age| (age, true))
    });
    // The longest-lived young says how the case went.
    let (days, event) = fates.max_by_key(|(days, died)| (*days, !died)).unwrap_or((0, false));
    (hatched + days, event)
}

fn comparison(courses: &[Course], from_days: u32, within_days: u32) -> Comparison {
    let (from, landmark) = (i64::from(from_days), i64::from(from_days + within_days));
    let in_case = |course: &&Course| {
        course.entry <= from
            && course.exit > from
            && course.opened.is_none_or(|day| day > from)
            && course.ended.is_none_or(|day| day > from)
    };
    let eligible: Vec<&Course> = courses.iter().filter(in_case).collect();
    let mut rows: Vec<Grouped<Row>> = Vec::new();
    for course in &eligible {
        let opened = course.opened.filter(|day| *day < course.exit);
        rows.extend(row(from, opened.unwrap_or(course.exit), course.event && opened.is_none(), NOT_OPENED));
        rows.extend(opened.and_then(|day| row(day, course.exit, course.event, OPENED)));
    }
    let there = eligible.iter().filter(|course| course.exit > landmark);
    let group = |course: &Course| if course.opened.is_some_and(|day| day <= landmark) { OPENED } else { NOT_OPENED };
    let from_landmark: Vec<Grouped<Row>> = there.filter_map(|course| row(landmark, course.exit, course.event, group(course))).collect();
    Comparison {
        from_days,
        within_days,
        event: format!("lost in the case, or the young died within {} days of hatching", FOLLOWED_DAYS[0]),
        eligible: eligible.len() as u64,
        time_dependent: compared(&rows),
        landmark: compared(&from_landmark),
    }
}

const NOT_OPENED: usize = 0;
const OPENED: usize = 1;

fn row(entry: i64, exit: i64, event: bool, group: usize) -> Option<Grouped<Row>> {
    let row = if event { Row::event_at(exit as f64) } else { Row::censored_at(exit as f64) };
    (exit > entry).then(|| Grouped { case: row.entered_at(entry as f64), group, stratum: 0 })
}

fn compared(rows: &[Grouped<Row>]) -> Compared {
    let group = |wanted: usize| {
        let own = || rows.iter().filter(move |row| row.group == wanted);
        let days = own().map(|row| row.case.exit_days - row.case.entry_days.unwrap_or(0.0)).sum::<f64>();
        Group {
            n: own().count() as u64,
            events: own().filter(|row| row.case.event).count() as u64,
            expected: None,
            days: days.round() as i64,
        }
    };
    let mut told = Compared { opened: group(OPENED), not_opened: group(NOT_OPENED), chi2: None, p: None, absent: None };
    let no_overlap = |says: &str| Some(Absent::new("not estimable", format!("not estimable: {says}")));
    if told.opened.n == 0 || told.not_opened.n == 0 {
        told.absent = no_overlap("one of the two groups is empty, so nothing overlaps");
        return told;
    }
    match log_rank(rows.iter().cloned(), Design::of_groups(2), 0.0) {
        Err(Error::NotEstimable(reason)) => told.absent = no_overlap(&reason.to_string()),
        Err(Error::Input(wrong)) => told.absent = no_overlap(&wrong.to_string()),
        Ok(test) => {
            told.not_opened.expected = Some(numbers::rounded(test.expected[NOT_OPENED], 2));
            told.opened.expected = Some(numbers::rounded(test.expected[OPENED], 2));
            if test.expected.iter().any(|expected| *expected < EXPECTED_MIN) {
                told.absent = no_overlap("fewer than 5 events are expected in one of the groups");
            } else {
                (told.chi2, told.p) = (Some(numbers::rounded(test.chi2, 3)), Some(numbers::proportion(test.p)));
            }
        }
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The simulated eggs of `tests/reference`, for which opening has no effect: a hazard of 1/100 a
    /// day (`immortal_tdc.csv`). Their days are told to the hundredth, so that a hundredth is a day
    /// here.
    fn simulated() -> Vec<Course> {
        let mut courses: BTreeMap<&str, Course> = BTreeMap::new();
        for line in include_str!("../../../../../tests/reference/immortal_tdc.csv").lines().skip(1) {
            let [id, entry, time, event, treated] = line.split(',').collect::<Vec<_>>()[..] else { panic!("{line}") };
            let hundredths = |text: &str| (text.parse::<f64>().expect("a number") * 100.0).round() as i64;
            let (entry, exit) = (hundredths(entry), hundredths(time));
            let course = courses.entry(id).or_insert(Course { entry: 0, exit, event: false, opened: None, ended: None });
            course.exit = course.exit.max(exit);
            course.event |= event == "1";
            course.opened = course.opened.or((treated == "1").then_some(entry));
        }
        courses.into_values().collect()
    }

    /// `immortal_time.expected.json` (R 4.2.2, survival 3.5.3): late entry chi-square 0.0191069, p
    /// 0.8900601; from the landmark of day 50 0.8348543, p 0.3608726; the naive comparison has 564.7.
    #[test]
    fn without_an_effect_none_is_found() {
        let found = comparison(&simulated(), 0, 50 * 100);
        let late = &found.time_dependent;
        assert_eq!((late.chi2, late.p), (Some(0.019), Some(0.8901)), "{late:?}");
        let landmark = &found.landmark;
        assert_eq!((landmark.chi2, landmark.p), (Some(0.835), Some(0.3609)), "{landmark:?}");
        assert_eq!((landmark.opened.n, landmark.opened.events, landmark.not_opened.n, landmark.not_opened.events), (192, 133, 573, 384));
    }

    #[test]
    fn without_overlap_nothing_is_estimated() {
        let course = |exit, event, opened| Course { entry: 0, exit, event, opened, ended: Some(exit) };
        let nobody = comparison(&[course(140, true, None), course(150, false, None)], 100, 14);
        assert_eq!(nobody.time_dependent.absent.as_ref().map(|absent| absent.why.as_str()), Some("not estimable"));
        assert_eq!((nobody.eligible, nobody.landmark.opened.n), (2, 0));
        let few = comparison(
            &[course(140, true, None), course(150, true, Some(120)), course(99, true, None), course(160, false, Some(90))],
            100,
            14,
        );
        assert_eq!(few.eligible, 2, "one had ended before, one was opened before");
        assert!(few.time_dependent.p.is_none() && few.time_dependent.opened.n == 1 && few.time_dependent.not_opened.n == 2);
        assert_eq!(few.landmark.opened.n, 0, "opened on day 120, after the landmark of day 114");
    }
}
