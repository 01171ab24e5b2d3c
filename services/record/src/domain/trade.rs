//! What a trade report wants to know: uses of permits by species and code. Codes and numbers are those that
//! people signed; where nobody signed a number the record's own is taken and said to be so, and where there
//! is none, or two that contradict each other, no number is made up.

use super::state::{EventId, Noted, PermitUsed, Thing};
use super::view::View;
use selachron_schemas::names::Subject;
use selachron_schemas::trade_codes::code_on;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use utoipa::ToSchema;

/// One line of a trade report.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TradeLine {
    /// The species; absent where no note that stands says it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub species: Option<Subject>,
    /// Its name as the collection lists it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scientific_name: Option<String>,
    /// `import`, `export` or another word of the permit.
    pub what: String,
    /// Codes as whoever used the permit signed them; absent where that note says none.
    #[serde(flatten)]
    pub codes: TradeCodes,
    /// How many; absent where one of its uses has no number that holds.
    pub quantity: Option<u64>,
    /// Uses that sign no number: theirs is that of the group as the record counts it then.
    #[schema(value_type = Vec<String>)]
    pub counted_by_record: Vec<EventId>,
    /// Uses without a number that holds: neither the note nor the record says one, or the two contradict
    /// each other.
    #[schema(value_type = Vec<String>)]
    pub not_counted: Vec<EventId>,
    /// Codes that the dated list does not have on the day of a use.
    pub not_in_the_list: Vec<String>,
    /// The uses behind it.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
    /// Those of them that were recorded while their author's key was suspected (F11).
    #[schema(value_type = Vec<String>)]
    pub suspected: Vec<EventId>,
}

/// The codes of a line.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
pub struct TradeCodes {
    /// What is traded.
    pub term: Option<String>,
    /// What for.
    pub purpose: Option<String>,
    /// Where it is from.
    pub source: Option<String>,
    /// In what it is counted.
    pub unit: Option<String>,
    /// The other country, ISO 3166-1 alpha-2.
    pub country: Option<String>,
}

impl TradeCodes {
    fn of(told: &PermitUsed) -> Self {
        let PermitUsed { term, purpose, source, unit, country, .. } = told.clone();
        Self { term, purpose, source, unit, country }
    }

    fn unknown_on(&self, day: &str) -> Vec<String> {
        let listed = [("term", &self.term), ("purpose", &self.purpose), ("source", &self.source), ("unit", &self.unit)];
        let said = listed.into_iter().filter_map(|(list, code)| Some((list, code.as_ref()?)));
        said.filter(|(list, code)| code_on(list, code, day).is_none()).map(|(list, code)| format!("{list} {code}")).collect()
    }
}

type Key = (Option<Subject>, String, TradeCodes);

/// A line while it is added up.
#[derive(Default)]
struct Sum {
    counted: u64,
    unknown_codes: BTreeSet<String>,
    by_record: BTreeSet<EventId>,
    not_counted: BTreeSet<EventId>,
    events: BTreeSet<EventId>,
}

impl Sum {
    fn add(&mut self, event: EventId, taken: &Taken, unknown_codes: Vec<String>) {
        self.events.insert(event);
        self.unknown_codes.extend(unknown_codes);
        match taken.quantity {
            Some(quantity) => self.counted += quantity,
            None => drop(self.not_counted.insert(event)),
        }
        if taken.by_record {
            self.by_record.insert(event);
        }
    }

    fn line(self, view: &View<'_>, (species, what, codes): Key) -> TradeLine {
        TradeLine {
            scientific_name: species.as_ref().and_then(|id| view.species(id)).map(|species| species.scientific_name),
            species,
            what,
            codes,
            quantity: Some(self.counted).filter(|_| self.not_counted.is_empty()),
            counted_by_record: self.by_record.into_iter().collect(),
            not_counted: self.not_counted.into_iter().collect(),
            not_in_the_list: self.unknown_codes.into_iter().collect(),
            suspected: view.suspected_among(self.events.iter().copied()),
            events: self.events.into_iter().collect(),
        }
    }
}

/// What of one species was taken under one use.
struct Taken {
    species: Option<Subject>,
    quantity: Option<u64>,
    /// The number is the record's, since the use signs none.
    by_record: bool,
}

/// What a use names of one species: cases and animals, and groups of so many.
#[derive(Default)]
struct Named {
    singles: u64,
    groups: u64,
    /// How many are in the groups; none where the record does not say of one of them.
    in_groups: Option<u64>,
}

impl Named {
    fn all(&self) -> Option<u64> {
        if self.groups == 0 { Some(self.singles) } else { self.in_groups.map(|count| count + self.singles) }
    }

    /// Whether so many can have been taken of what is named: of a group not all need be.
    fn allows(&self, signed: u64) -> bool {
        self.singles + self.groups <= signed && self.all().is_none_or(|all| signed <= all)
    }
}

impl View<'_> {
    /// Uses of permits in a year, or ever, one line for each species, permit's word and set of codes.
    #[must_use]
    pub fn trade_lines(&self, year: Option<i32>) -> Vec<TradeLine> {
        use chrono::Datelike as _;
        let mut lines: BTreeMap<Key, Sum> = BTreeMap::new();
        for permit in self.subjects("document").filter_map(|id| self.fold_permit(id).0) {
            for used in &permit.used {
                let day = self.day(used.when.time);
                if year.is_some_and(|year| day.year() != year) {
                    continue;
                }
                let (codes, day) = (TradeCodes::of(&used.told), day.to_string());
                for taken in self.taken(used, &permit.recorded.told.species) {
                    let key = (taken.species.clone(), permit.recorded.told.what.clone(), codes.clone());
                    lines.entry(key).or_default().add(used.when.event, &taken, codes.unknown_on(&day));
                }
            }
        }
        lines.into_iter().map(|(key, sum)| sum.line(self, key)).collect()
    }

    /// How many of which species were taken under one use. What the note counts stands while it can be true
    /// of what it names; of several species it must be all of that, for it does not say how many of each.
    fn taken(&self, used: &Noted<PermitUsed>, covers: &[Thing]) -> Vec<Taken> {
        let (named, signed) = (self.named(used), used.told.specimens.map(|count| count.0));
        if named.is_empty() {
            let species = Some(covers).filter(|all| all.len() == 1).map(|all| all[0].0.clone());
            return vec![Taken { species, quantity: signed, by_record: false }];
        }
        let one = named.len() == 1;
        let total: Option<u64> = named.values().map(Named::all).sum();
        let holds = signed.is_none_or(|signed| if one { named.values().all(|named| named.allows(signed)) } else { Some(signed) == total });
        let taken = |(species, named): (Option<Subject>, Named)| {
            let by_record = signed.filter(|_| one).is_none();
            let quantity = if by_record { named.all() } else { signed };
            let by_record = by_record && named.groups > 0 && quantity.is_some() && holds;
            Taken { species, quantity: quantity.filter(|_| holds), by_record }
        };
        named.into_iter().map(taken).collect()
    }

    /// How many were taken under one use, of all species together; nothing where neither the note nor what it
    /// names can say.
    pub(super) fn specimens_taken(&self, used: &Noted<PermitUsed>, covers: &[Thing]) -> Option<u64> {
        self.taken(used, covers).iter().map(|taken| taken.quantity).sum()
    }

    fn named(&self, used: &Noted<PermitUsed>) -> BTreeMap<Option<Subject>, Named> {
        let mut all: BTreeMap<Option<Subject>, Named> = BTreeMap::new();
        for which in &used.told.which {
            let named = all.entry(self.species_of_any(which)).or_default();
            if which.noun() == "group" {
                let count = self.group_at(which, used.when.time).and_then(|group| u64::try_from(group.counts.total()).ok());
                // A group that has nobody left by then is of an unknown number: it was taken before.
                let count = count.filter(|count| *count > 0);
                let before = if named.groups == 0 { Some(0) } else { named.in_groups };
                named.in_groups = before.zip(count).map(|(before, count)| before + count);
                named.groups += 1;
            } else {
                named.singles += 1;
            }
        }
        all
    }

    fn species_of_any(&self, id: &Subject) -> Option<Subject> {
        match id.noun() {
            "egg" => self.egg(id)?.species,
            "group" => self.group(id)?.species,
            _ => self.animal(id)?.species,
        }
    }
}
