//! Who lays when, who finds it, and what becomes of each case in truth. The record never sees
//! the truth, only what people find.

use super::calendar::{FIRST_DAY, after_days, at, date_of, days, is_search_day, plus_days};
use super::chance::Chance;
use super::diary::{Diary, slot};
use super::house::{House, Tank, new_subject};
use super::note::{Handle, Planned};
use super::people::on_duty;
use super::stock::{STOCKS, Stock};
use chrono::{Datelike as _, NaiveDate, Weekday};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};
use std::collections::{BTreeMap, VecDeque};

/// What becomes of a case, in truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fate {
    /// One young comes out.
    Hatches,
    /// Two come out.
    Twins,
    /// One comes out and is found dead.
    HatchesDead,
    /// There never was a yolk.
    NoYolk,
    /// A yolk in which nothing is ever seen to grow.
    NothingGrows,
    /// As `NothingGrows`, and the case is given to a laboratory.
    Sampled,
    /// The yolk breaks.
    YolkBreaks,
    /// Damaged when it was found.
    Damaged,
    /// Drilled and empty when it was found.
    Drilled,
    /// The embryo dies at that fraction of its time.
    Dies(f64),
    /// As `Dies`, and the veterinarian examines the dead case.
    DiesAndIsExamined(f64),
    /// The embryo dies in the chill.
    Chilled,
    /// The young is found dead, half out.
    Trapped,
    /// Cloudy when it arrived from elsewhere.
    CloudyOnArrival,
    /// The case is sent to another collection at that fraction of its time.
    SentOut(f64),
    /// Past its window; opened with every signature, and the young comes by itself after that.
    OpenedByTheRules,
    /// Torn; opened by one keeper alone, and the young comes.
    OpenedAlone,
}

/// A case, with the truth about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// Its subject.
    pub egg: Subject,
    /// Its label.
    pub label: String,
    /// Its species.
    pub stock: Stock,
    /// Its place among all cases: what part of the round it is looked at in.
    pub row: usize,
    /// When it was laid. Nobody knows.
    pub laid: Instant,
    /// When it was found or received.
    pub found: Instant,
    /// Days from laying to hatching, if nothing prevents it.
    pub incubation_days: f64,
    /// What becomes of it.
    pub fate: Fate,
    /// The note that brought it into the record.
    pub note: Handle,
}

/// A dam's time of laying.
struct Laying {
    stock: Stock,
    /// Which of the species' females.
    dam: usize,
    first: NaiveDate,
    pairs: usize,
    /// Whether the pairs were seen laid.
    seen: bool,
    late_in_season: f64,
}

/// The season's layings, in an order in which cases are numbered.
fn layings() -> [Laying; 7] {
    use Stock::{Bamboo, Epaulette, Skate};
    let from = |stock, dam, day: i64, pairs, seen, late_in_season| {
        let first = plus_days(FIRST_DAY, day);
        Laying { stock, dam, first, pairs, seen, late_in_season }
    };
    [
        from(Skate, 0, 3, 5, true, 0.0),
        from(Bamboo, 0, 19, 6, false, 0.0),
        from(Epaulette, 0, 62, 6, false, 0.0),
        from(Bamboo, 1, 125, 6, false, 0.0),
        from(Skate, 1, 160, 6, true, 0.6),
        from(Epaulette, 1, 209, 6, false, 0.0),
        from(Bamboo, 0, 244, 4, true, 0.0),
    ]
}

/// Number of cases laid in the collection.
#[must_use]
pub fn laid() -> usize {
    layings().iter().map(|laying| laying.pairs * 2).sum()
}

/// Cases whose story is told: laying, place within it, fate.
const STORIES: [(usize, usize, Fate); 13] = [
    (0, 3, Fate::DiesAndIsExamined(0.55)),
    (1, 0, Fate::Hatches),
    (1, 3, Fate::Chilled),
    (1, 5, Fate::Twins),
    (2, 1, Fate::Chilled),
    (2, 6, Fate::HatchesDead),
    (3, 0, Fate::Hatches),
    (3, 4, Fate::OpenedByTheRules),
    (3, 9, Fate::Trapped),
    (4, 2, Fate::SentOut(0.5)),
    (4, 3, Fate::SentOut(0.5)),
    (5, 3, Fate::OpenedAlone),
    (6, 1, Fate::Sampled),
];

/// All other fates and how often each occurs, so that the rates stay within what the trade
/// reports (Payne 2012: 48 % of cases hatched) whatever the seed. `Dies` gets its own fraction.
const OTHERS: [(Fate, usize); 6] =
    [(Fate::NoYolk, 5), (Fate::NothingGrows, 14), (Fate::YolkBreaks, 1), (Fate::Damaged, 1), (Fate::Drilled, 1), (Fate::Dies(0.0), 9)];

/// The fates of all cases, by laying.
fn fates(seed: u64) -> Vec<VecDeque<Fate>> {
    let mut chance = Chance::new(seed, "fates");
    let mut deck: Vec<Fate> = OTHERS.iter().flat_map(|(fate, count)| std::iter::repeat_n(*fate, *count)).collect();
    deck.resize(laid() - STORIES.len(), Fate::Hatches);
    chance.shuffle(&mut deck);
    let mut next = |laying: usize, place: usize| {
        let story = STORIES.iter().find(|(of, at, _)| (*of, *at) == (laying, place)).map(|(_, _, fate)| *fate);
        match story.or_else(|| deck.pop()).unwrap_or(Fate::Hatches) {
            Fate::Dies(_) => Fate::Dies(chance.between(0.30, 0.88)),
            fate => fate,
        }
    };
    let fates_of = |(laying, cases): (usize, usize)| (0..cases).map(|place| next(laying, place)).collect();
    layings().iter().map(|laying| laying.pairs * 2).enumerate().map(fates_of).collect()
}

/// A pair on the floor of the adults' tank.
struct Pair {
    laying: usize,
    laid: Instant,
}

/// Searches the adults' tanks all through the season and collects what is there.
#[must_use]
pub fn collect(seed: u64, house: &House, diary: &mut Diary) -> Vec<Case> {
    let mut chance = Chance::new(seed, "laying");
    let mut pairs = lay(&mut chance);
    let fates = fates(seed);
    let mut finder = Finder { house, diary, chance, fates, cases: Vec::new(), numbers: BTreeMap::new() };
    for stock in STOCKS {
        finder.search(stock, &mut pairs);
    }
    finder.cases.sort_by_key(|case| case.found);
    for (row, case) in finder.cases.iter_mut().enumerate() {
        case.row = row;
    }
    finder.cases
}

fn lay(chance: &mut Chance) -> Vec<Pair> {
    let mut pairs = Vec::new();
    for (index, laying) in layings().iter().enumerate() {
        let mut laid = at(laying.first, 3, 0);
        for _ in 0..laying.pairs {
            pairs.push(Pair { laying: index, laid });
            laid = after_days(laid, chance.near(laying.stock.days_between_pairs(), 0.4));
        }
    }
    pairs
}

struct Finder<'a> {
    house: &'a House,
    diary: &'a mut Diary,
    chance: Chance,
    /// The fates still to come, of each laying, next one first.
    fates: Vec<VecDeque<Fate>>,
    cases: Vec<Case>,
    numbers: BTreeMap<Stock, usize>,
}

/// What the two cases of a pair have in common.
struct Find<'a> {
    laying: &'a Laying,
    index: usize,
    laid: Instant,
    searched_before: Instant,
    clutch: Subject,
}

impl Finder<'_> {
    /// Twice a week while somebody lays, else every second Monday.
    fn search(&mut self, stock: Stock, pairs: &mut Vec<Pair>) {
        let layings = layings();
        let mut previous = at(FIRST_DAY, 15, 0);
        self.note_search(stock, previous, 0);
        for date in days().skip(1).filter(|date| is_search_due(*date, stock)) {
            let time = slot(date, 8, 10, stock as usize, 600);
            let found: Vec<Pair> = pairs.extract_if(.., |pair| layings[pair.laying].stock == stock && pair.laid < time).collect();
            self.note_search(stock, time, found.len() * 2);
            for (row, pair) in found.into_iter().enumerate() {
                let clutch = new_subject("clutch", &mut self.chance, time);
                let laying = &layings[pair.laying];
                let find = Find { laying, index: pair.laying, laid: pair.laid, searched_before: previous, clutch };
                let at = time.plus_ms(i64::try_from(row).unwrap_or(0) * 200_000 + 120_000);
                let first = self.collect_case(&find, at, None);
                self.collect_case(&find, at.plus_ms(90_000), Some(first));
            }
            previous = time;
        }
    }

    fn note_search(&mut self, stock: Stock, time: Instant, eggs_found: usize) {
        let date = date_of(time);
        let tank = self.house.tank(Tank::Adults(stock));
        let data = json!({"eggs_found": eggs_found, "whole_tank": true});
        self.diary.add(Planned::new("tank.searched.v1", tank, on_duty(date), time).data(data).in_round(format!("search {date}")));
    }

    fn collect_case(&mut self, find: &Find<'_>, time: Instant, mate: Option<Subject>) -> Subject {
        let (stock, date) = (find.laying.stock, date_of(time));
        let number = self.numbers.entry(stock).or_insert(0);
        *number += 1;
        let label = format!("{}-{number:02}", stock.word());
        let fate = self.fates[find.index].pop_front().unwrap_or(Fate::Hatches);
        let egg = new_subject("egg", &mut self.chance, time);
        let data = self.collected(find, &label, fate, mate, time);
        let note = Planned::new("egg.collected.v1", &egg, on_duty(date), time).after(find.searched_before);
        let note = self.diary.add(note.in_round(format!("search {date}")).data(data));
        let incubation_days = self.incubation_days(find, fate);
        let laid = find.laid;
        self.cases.push(Case { egg: egg.clone(), label, stock, row: 0, laid, found: time, incubation_days, fate, note });
        egg
    }

    fn incubation_days(&mut self, find: &Find<'_>, fate: Fate) -> f64 {
        let (mean, sd) = find.laying.stock.incubation_days(find.laying.late_in_season);
        let days = self.chance.near(mean, sd);
        // The young that is opened by the rules is a late one: past the window's 176 days.
        if fate == Fate::OpenedByTheRules { 180.4 } else { days }
    }

    fn collected(&mut self, find: &Find<'_>, label: &str, fate: Fate, mate: Option<Subject>, time: Instant) -> Value {
        let stock = find.laying.stock;
        let taken_in = fate != Fate::Drilled;
        let damaged = matches!(fate, Fate::Drilled | Fate::Damaged);
        let basis = if find.laying.seen { "seen laid together" } else { "same colour and condition" };
        let tank = if fate == Fate::Damaged { Tank::Apart(stock.water()) } else { Tank::Trays(stock.water()) };
        json!({
            "label": label, "species": self.house.species(stock), "from_tank": self.house.tank(Tank::Adults(stock)), "laid": "pair",
            "pair_mate": mate.map_or_else(|| json!({"basis": basis}), |egg| json!({"egg": egg, "basis": basis})),
            "clutch": find.clutch, "case": if damaged { "damaged" } else { "whole" }, "yolk": self.first_look_at_yolk(stock, fate),
            "dam": self.dam(find, time), "sire": self.sire(stock, time),
            "to_tank": taken_in.then(|| self.house.tank(tank))
        })
    }

    fn first_look_at_yolk(&mut self, stock: Stock, fate: Fate) -> &'static str {
        let dark = self.chance.happens(stock.dark_share() + 0.1);
        match fate {
            Fate::Drilled | Fate::NoYolk if !dark => "not seen",
            _ if dark => "could not see",
            _ => "seen",
        }
    }

    /// Every female in the tank is a candidate, unless one was seen laying.
    fn dam(&self, find: &Find<'_>, time: Instant) -> Value {
        let females: Vec<_> = self.house.adults_of(find.laying.stock, true, time).collect();
        let dam = &females[find.laying.dam];
        if find.laying.seen {
            return json!({"status": "known", "animals": [{"animal": dam.animal}], "basis": "seen laying"});
        }
        let others = (females.len() - 1).max(1);
        let weigh = |other: bool| if other { [0.3, 0.15][others.min(2) - 1] } else { 0.7 };
        let candidates = females.iter().map(|female| json!({"animal": female.animal, "weight": weigh(female.animal != dam.animal)}));
        let basis = "shared the tank; weights by size and colour of the case, the keeper's judgement";
        json!({"status": "candidates", "animals": candidates.collect::<Vec<_>>(), "basis": basis})
    }

    /// A male in the tank never proves a sire: sperm is stored for years (Bernal 2015).
    fn sire(&self, stock: Stock, time: Instant) -> Value {
        let males = self.house.adults_of(stock, false, time).map(|male| json!({"animal": male.animal}));
        json!({"status": "candidates", "animals": males.collect::<Vec<_>>(), "basis": "shared the tank; stored sperm cannot be excluded"})
    }
}

fn is_search_due(date: NaiveDate, stock: Stock) -> bool {
    let laying = layings().iter().any(|laying| laying.stock == stock && laying.covers(date));
    if laying { is_search_day(date) } else { date.weekday() == Weekday::Mon && date.iso_week().week().is_multiple_of(2) }
}

impl Laying {
    fn covers(&self, date: NaiveDate) -> bool {
        let weeks = self.pairs as f64 * self.stock.days_between_pairs();
        let last = after_days(at(self.first, 3, 0), weeks + 6.0);
        (plus_days(self.first, -4)..=date_of(last)).contains(&date)
    }
}
