//! What a trade report wants to know: uses of permits by species and code, as people signed them.

use super::state::{EventId, Noted, PermitUsed};
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
