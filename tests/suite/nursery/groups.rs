//! Laws of groups on random histories: whoever is counted in one is counted once, whatever is split,
//! merged, put in or told apart; and the stock list of each year adds up, class by class.

use super::book::{Book, Draft, day, subject};
use proptest::prelude::*;
use proptest::test_runner::TestCaseError;
use selachron_record::domain::state::{Counts, Sex};
use selachron_record::report::annual::gather;
use selachron_record::report::annual::material::{Span, Year};
use selachron_record::report::annual::stock::{Basis, StockLine, stock};
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

/// One thing that happens: what, to which groups, and a number for the details.
type Deed = (u8, usize, usize, usize);

/// Days between two of them: a history of 40 reaches over the end of a year.
const DAYS_BETWEEN: i64 = 16;

const CLASSES: [(&str, Sex); 3] = [("male", Sex::Male), ("female", Sex::Female), ("unknown", Sex::Unknown)];

/// What is so, in plain numbers.
#[derive(Clone, Default)]
struct Truth {
    groups: Vec<Option<[i64; 3]>>,
    /// The fewest that each group ever had of each class, those told apart since left out: so many were
    /// among them all along.
    fewest: Vec<[i64; 3]>,
    /// Animals known by themselves, by class, that are here.
    single: Vec<(String, usize)>,
}

impl Truth {
    fn remember(&mut self) {
        for (fewest, counts) in self.fewest.iter_mut().zip(&self.groups) {
            let counts = counts.unwrap_or([0; 3]);
            (0..3).for_each(|class| fewest[class] = fewest[class].min(counts[class]));
        }
    }

    fn total(&self) -> [i64; 3] {
        let mut total = [0; 3];
        for counts in self.groups.iter().flatten() {
            (0..3).for_each(|class| total[class] += counts[class]);
        }
        self.single.iter().for_each(|(_, class)| total[*class] += 1);
        total
    }
}

fn told(counts: [i64; 3]) -> Value {
    json!({"males": counts[0], "females": counts[1], "unknown": counts[2]})
}

fn name(group: usize) -> String {
    subject("group", &format!("G{group}"))
}

/// A history in the making.
struct Story {
    book: Book,
    truth: Truth,
    now: i64,
}

impl Story {
    fn write(&mut self, kind: &str, about: &str, data: Value) {
        let time = day(self.now * DAYS_BETWEEN);
        self.book.write(Draft::new(kind, about, time, data));
        self.now += 1;
    }

    fn form(&mut self, counts: [i64; 3], came: &str) {
        let group = self.truth.groups.len();
        let data = json!({"label": format!("G{group}"), "species": subject("species", "S"), "counts": told(counts), "how_counted": "by photo",
            "came": came, "tank": subject("tank", "Nur"), "hatched_on_estimate": "2025-06-01"});
        self.write("group.formed", &name(group), data);
        self.begin(counts);
    }

    fn begin(&mut self, counts: [i64; 3]) {
        self.truth.groups.push(Some(counts));
        self.truth.fewest.push(counts);
    }

    /// A living group, and some of its animals.
    fn some_of(&self, group: usize, detail: usize) -> Option<(usize, [i64; 3])> {
        let living: Vec<usize> = (0..self.truth.groups.len()).filter(|at| self.truth.groups[*at].is_some_and(|c| c != [0; 3])).collect();
        let group = *living.get(group % living.len().max(1))?;
        let counts = self.truth.groups[group]?;
        let mut part = [0, 1, 2].map(|class| counts[class].min((detail >> (2 * class) & 3) as i64));
        if part == [0; 3] {
            let class = (0..3).find(|class| counts[*class] > 0)?;
            part[class] = 1;
        }
        Some((group, part))
    }

    fn lose(&mut self, group: usize, part: [i64; 3]) {
        if let Some(counts) = &mut self.truth.groups[group] {
            (0..3).for_each(|class| counts[class] -= part[class]);
        }
    }

    fn tell(&mut self, (what, one, other, detail): Deed) {
        if what == 0 || self.truth.groups.is_empty() {
            let counts = [0, 1, 2].map(|class| (detail >> (2 * class) & 3) as i64);
            let came = ["received", "hatched here, case unknown"][detail % 2];
            return if counts == [0; 3] { self.form(counts, "known by themselves") } else { self.form(counts, came) };
        }
        match what {
            1 => self.receive(detail),
            2 => self.put_in(one, other),
            3 => self.single_dies(one),
            _ => self.tell_of_group(what, one, other, detail),
        }
    }

    fn tell_of_group(&mut self, what: u8, one: usize, other: usize, detail: usize) {
        let Some((group, part)) = self.some_of(one, detail) else { return };
        let id = name(group);
        match what {
            4 => {
                let data = json!({"counts": told(part), "how_known": "found dead", "apparent_cause": "not determined", "body": "frozen"});
                self.write("group.died", &id, data);
                self.lose(group, part);
            }
            5 => {
                self.write("group.departed", &id, json!({"counts": told(part), "to": "another house", "reason": "transfer"}));
                self.lose(group, part);
            }
            6 => {
                let into = self.truth.groups.len();
                self.write("group.split", &id, json!({"into": name(into), "label": format!("G{into}"), "counts": told(part)}));
                self.lose(group, part);
                self.begin(part);
            }
            7 => self.merge(group, other),
            8 => self.count(group, detail),
            _ => self.tell_apart(group, detail),
        }
    }

    fn receive(&mut self, detail: usize) {
        let class = detail % 3;
        let animal = subject("animal", &format!("A{}", self.now));
        let data = json!({"label": format!("A{}", self.now), "species": subject("species", "S"), "sex": CLASSES[class].0, "from": "another house",
            "state": "alive", "origin": "bred in care", "tank": subject("tank", "Nur")});
        self.write("animal.received", &animal, data);
        self.truth.single.push((animal, class));
    }

    fn put_in(&mut self, group: usize, animal: usize) {
        // Into any group that has not been put into another, with nobody in it too.
        let open: Vec<usize> = (0..self.truth.groups.len()).filter(|at| self.truth.groups[*at].is_some()).collect();
        if self.truth.single.is_empty() || open.is_empty() {
            return;
        }
        let group = open[group % open.len()];
        let (id, class) = self.truth.single.remove(animal % self.truth.single.len());
        let data = json!({"group": name(group), "counted_as": CLASSES[class].0, "reason": "they look alike"});
        self.write("animal.grouped", &id, data);
        if let Some(counts) = &mut self.truth.groups[group] {
            counts[class] += 1;
        }
    }

    fn single_dies(&mut self, animal: usize) {
        if self.truth.single.is_empty() {
            return;
        }
        let (id, _) = self.truth.single.remove(animal % self.truth.single.len());
        self.write("animal.died", &id, json!({"how_known": "found dead", "apparent_cause": "illness", "body": "frozen"}));
    }

    fn merge(&mut self, group: usize, other: usize) {
        let into: Vec<usize> = (0..self.truth.groups.len()).filter(|at| *at != group && self.truth.groups[*at].is_some()).collect();
        let (Some(counts), false) = (self.truth.groups[group], into.is_empty()) else { return };
        let into = into[other % into.len()];
        self.write("group.merged", &name(into), json!({"from_group": name(group), "counts": told(counts)}));
        self.truth.groups[group] = None;
        if let Some(here) = &mut self.truth.groups[into] {
            (0..3).for_each(|class| here[class] += counts[class]);
        }
    }

    /// A full count: some of the unknown are sexed, or one more is found than the record had.
    fn count(&mut self, group: usize, detail: usize) {
        let Some(mut counts) = self.truth.groups[group] else { return };
        if detail.is_multiple_of(4) {
            counts[detail % 3] += 1;
        } else if counts[2] > 0 {
            counts[2] -= 1;
            counts[detail % 2] += 1;
        }
        self.write("group.counted", &name(group), json!({"counts": told(counts), "full": true}));
        self.truth.groups[group] = Some(counts);
    }

    /// One that was in it all along; of one that came later or was sexed since nobody could say so.
    fn tell_apart(&mut self, group: usize, detail: usize) {
        let Some(class) = (0..3).find(|class| self.truth.fewest[group][*class] > 0) else { return };
        // Known by its pattern it may be sexed as well; whoever was sexed keeps its sex.
        let sex = if class == 2 { detail % 3 } else { class };
        let animal = subject("animal", &format!("T{}", self.now));
        let data = json!({"group": name(group), "counted_as": CLASSES[class].0, "label": format!("T{}", self.now), "sex": CLASSES[sex].0,
            "how_told": "by its pattern"});
        self.write("animal.told_apart", &animal, data);
        let mut one = [0; 3];
        one[class] = 1;
        self.truth.fewest[group][class] -= 1;
        self.lose(group, one);
        self.truth.single.push((animal, sex));
    }
}

/// The line of all species in that year, as known at the end; every line must add up on both bases.
fn line(book: &Book, year: i32, as_of: i64) -> Result<StockLine, TestCaseError> {
    let projections = book.learned();
    projections.at(day(as_of), u64::MAX, |view| {
        let material = gather(view, year.into()).expect("the year has begun");
        let days = Year::of(year.into(), material.zone).expect("a year");
        let span = Span { from: days.start, until: days.until(material.as_of) };
        let by = |basis| stock(&material.before, &material.closing, &material.species, basis, span, material.zone);
        let ((list, failing), (owned, owned_failing)) = (by(Basis::Presence), by(Basis::Ownership));
        prop_assert!(failing.is_empty() && owned_failing.is_empty(), "{year}: {failing:?}");
        prop_assert_eq!(&list, &owned, "nobody is lent");
        Ok(list.total)
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn everybody_is_counted_once_in_every_year(deeds in prop::collection::vec((0..11u8, 0..8usize, 0..8usize, 0..64usize), 1..40)) {
        let mut story = Story { book: Book::founded(), truth: Truth::default(), now: 1 };
        let mut ends = Vec::new();
        for deed in deeds {
            story.tell(deed);
            story.truth.remember();
            ends.push((story.now, story.truth.clone()));
        }
        let last_of = |year_end: i64| ends.iter().rev().find(|(now, _)| (now - 1) * DAYS_BETWEEN < year_end).map_or([0; 3], |(_, truth)| truth.total());
        let (first, second) = (line(&story.book, 2026, 364)?, line(&story.book, 2027, 729)?);
        prop_assert_eq!(first.start.0, [0; 3]);
        prop_assert_eq!(first.end.0, last_of(365));
        prop_assert_eq!(second.start.0, first.end.0, "start(y+1) = end(y)");
        prop_assert_eq!(second.end.0, story.truth.total());
        // Each group by itself: the record's numbers are those that are so, and the sum of its changes.
        let projections = story.book.learned();
        projections.at(day(800), u64::MAX, |view| {
            for (number, wanted) in story.truth.groups.iter().enumerate() {
                let group = view.group(&Subject::parse(&name(number)).unwrap()).expect("it was formed");
                let Counts { males, females, unknown } = group.counts;
                prop_assert_eq!([males, females, unknown], wanted.unwrap_or([0; 3]), "group {}", number);
                let sum = group.changes.iter().fold(Counts::default(), |sum, change| sum.and(change.change, |a, b| a + b));
                prop_assert_eq!(sum, group.counts);
            }
            Ok(())
        })?;
        let recounts = ["a group is not as many as the record has"];
        let odd = projections.at(day(800), u64::MAX, |view| view.discrepancies());
        let others: Vec<_> = odd.iter().filter(|found| !recounts.contains(&found.kind)).map(|found| (found.kind, &found.says)).collect();
        prop_assert!(others.is_empty(), "a sound history is not at odds: {others:?}");
    }
}
