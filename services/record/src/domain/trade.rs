//! What a trade report wants to know: uses of permits by species and code, and what the record has to
//! say for and against a source code. It decides nothing and proposes nothing: a person who knows the law
//! of the place chooses the code and signs it in the note of the permit's use.

use super::parents::Parent;
use super::state::{Animal, AnimalOrigin, EventId, Noted, ParentStatus, PermitUsed};
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
    /// How many.
    pub quantity: u64,
    /// Codes that the dated list does not have on the day of a use.
    pub not_in_the_list: Vec<String>,
    /// The uses behind it.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
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

impl View<'_> {
    /// Uses of permits in a year, or ever, one line for each species, permit's word and set of codes.
    #[must_use]
    pub fn trade_lines(&self, year: Option<i32>) -> Vec<TradeLine> {
        use chrono::Datelike as _;
        let mut lines: BTreeMap<Key, (u64, BTreeSet<String>, BTreeSet<EventId>)> = BTreeMap::new();
        for permit in self.subjects("document").filter_map(|id| self.fold_permit(id).0) {
            for used in &permit.used {
                let day = self.day(used.when.time);
                if year.is_some_and(|year| day.year() != year) {
                    continue;
                }
                let codes = TradeCodes::of(&used.told);
                for (species, quantity) in self.taken(used, &permit.recorded.told.species) {
                    let line = lines.entry((species, permit.recorded.told.what.clone(), codes.clone())).or_default();
                    line.0 += quantity;
                    line.1.extend(codes.unknown_on(&day.to_string()));
                    line.2.insert(used.when.event);
                }
            }
        }
        let line = |((species, what, codes), (quantity, unknown, events)): (Key, (u64, BTreeSet<String>, BTreeSet<EventId>))| TradeLine {
            scientific_name: species.as_ref().and_then(|id| self.species(id)).map(|species| species.scientific_name),
            species,
            what,
            codes,
            quantity,
            not_in_the_list: unknown.into_iter().collect(),
            events: events.into_iter().collect(),
        };
        lines.into_iter().map(line).collect()
    }

    /// How many of which species were taken under one use. What the note counts stands for one species;
    /// of several, what it names is counted.
    fn taken(&self, used: &Noted<PermitUsed>, covers: &[super::state::Thing]) -> Vec<(Option<Subject>, u64)> {
        let mut named: BTreeMap<Option<Subject>, u64> = BTreeMap::new();
        for which in &used.told.which {
            *named.entry(self.species_of_any(which)).or_default() += 1;
        }
        let quantity = used.told.specimens.map(|count| count.0);
        if named.len() > 1 {
            return named.into_iter().collect();
        }
        let only = named.first_key_value().map(|(species, count)| (species.clone(), *count));
        let (species, counted) = only.unwrap_or_else(|| (Some(covers).filter(|all| all.len() == 1).map(|all| all[0].0.clone()), 1));
        vec![(species, quantity.unwrap_or(counted))]
    }

    fn species_of_any(&self, id: &Subject) -> Option<Subject> {
        match id.noun() {
            "egg" => self.egg(id)?.species,
            "group" => self.group(id)?.species,
            _ => self.animal(id)?.species,
        }
    }
}

/// Something that the record has to say about a source code.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Reason {
    /// In words.
    pub says: String,
    /// The notes behind it.
    #[schema(value_type = Vec<String>)]
    pub events: Vec<EventId>,
}

/// What speaks for and against one code, and what the record cannot know.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ForCode {
    /// `C`, `F`, `W` or `R`.
    pub code: &'static str,
    /// What the dated list says it means.
    pub meaning: Option<&'static str>,
    /// For it.
    pub speaks_for: Vec<Reason>,
    /// Against it.
    pub speaks_against: Vec<Reason>,
    /// To be answered by a person.
    pub asks: Vec<&'static str>,
}

/// The source codes of an animal, weighed by nobody.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SourceCodes {
    /// The animal.
    #[schema(value_type = String)]
    pub animal: Subject,
    /// What this is not.
    pub says: &'static str,
    /// Each code with its reasons.
    pub codes: Vec<ForCode>,
}

const DECIDES: &str = "This decides nothing: the permit, local law and the authority do. The codes are shown with what the record says.";
const MATED: &str = "Did the parents mate in a controlled environment? An egg of sperm stored from a mating in the wild is not bred in captivity (50 CFR 23.63).";
const STOCK: &str =
    "Was the breeding stock come by lawfully, and is it managed so that it lasts without the wild (50 CFR 23.63, in our words)?";
const RANCHED: &str = "Was it taken from the wild as an egg or a juvenile and reared in a controlled environment?";
const WHERE_FROM: &str = "Do the papers that came with it say where it is from?";

impl View<'_> {
    /// What the record has to say about the source codes of an animal.
    #[must_use]
    pub fn source_codes(&self, animal: &Animal) -> SourceCodes {
        let day = self.day(self.as_of()).to_string();
        let came = vec![animal.came.event];
        let (here, wild, bred) = match &animal.origin {
            AnimalOrigin::Hatched { .. } => (true, false, false),
            AnimalOrigin::ToldApart { hatched_here, .. } => (*hatched_here, false, false),
            AnimalOrigin::Received { origin, .. } => (false, origin == "wild", origin == "bred in care"),
            AnimalOrigin::Withheld => (false, false, false),
        };
        let reason = |says: &str| Reason { says: says.to_owned(), events: came.clone() };
        let born = [(here, "It hatched here."), (bred, "It arrived as bred in care, by its sender's word.")];
        let born: Vec<Reason> = born.into_iter().filter(|(is, _)| *is).map(|(_, says)| reason(says)).collect();
        let from_the_wild: Vec<Reason> = wild.then(|| reason("It arrived as from the wild.")).into_iter().collect();
        let (parents_for, parents_against) = self.parents_for_bred(animal);
        let code = |code, speaks_for: Vec<Reason>, speaks_against: Vec<Reason>, asks| {
            let meaning = code_on("source", code, &day).map(|known| known.meaning);
            ForCode { code, meaning, speaks_for, speaks_against, asks }
        };
        let bred_against = [parents_against.clone(), from_the_wild.clone()].concat();
        let codes = vec![
            code("C", [born.clone(), parents_for].concat(), bred_against, vec![MATED, STOCK]),
            code("F", [born.clone(), parents_against].concat(), from_the_wild.clone(), vec![MATED]),
            code("W", from_the_wild.clone(), born.clone(), vec![WHERE_FROM]),
            code("R", from_the_wild, born, vec![RANCHED, WHERE_FROM]),
        ];
        SourceCodes { animal: animal.id.clone(), says: DECIDES, codes }
    }

    /// What is known of the parents that speaks for and against "bred in captivity".
    fn parents_for_bred(&self, animal: &Animal) -> (Vec<Reason>, Vec<Reason>) {
        let (mut speaks_for, mut against) = (Vec::new(), Vec::new());
        let parents = self.parents(animal);
        for (which, parent) in [("dam", &parents.dam), ("sire", &parents.sire)] {
            let reason = |says: String| Reason { says, events: parent.events.clone() };
            match parent.status {
                ParentStatus::Known => speaks_for.push(reason(format!("Its {which} is known."))),
                ParentStatus::None => {
                    speaks_for.push(reason("It has no sire: its mother alone was in care when development began.".to_owned()))
                }
                ParentStatus::Candidates => against.push(reason(format!("Its {which} is one of several."))),
                ParentStatus::Unknown => against.push(reason(format!("Nobody knows its {which}."))),
                ParentStatus::WildCaught => against.push(reason("Its parents lived in the wild.".to_owned())),
            }
            against.extend(self.wild_parent(which, parent));
        }
        (speaks_for, against)
    }

    /// A known parent that came from the wild may have mated there.
    fn wild_parent(&self, which: &str, parent: &Parent) -> Option<Reason> {
        let known = self.animal(parent.known()?)?;
        let AnimalOrigin::Received { origin, .. } = &known.origin else { return None };
        let says = format!("Its {which} arrived from the wild on {}: where it mated is to be asked.", self.day(known.came.time));
        (origin == "wild").then(|| Reason { says, events: vec![known.came.event] })
    }
}
