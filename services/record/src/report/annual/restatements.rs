//! Restatements: figures of the stock list and the egg ledger that an issued report showed otherwise. The
//! lists of that report are computed for its own instant twice, by the notes known then and by those known
//! now: whatever differs was changed by notes that came later.

use super::cells::{alone, counted, without_class};
use super::gather::lists;
use super::material::{Material, Twelve, Year};
use super::profile::{self, PLAIN};
use super::stock::CLASSES;
use super::table::{Behind, PartTable, words};
use super::window::Window;
use crate::domain::note::Note;
use crate::domain::state::EventId;
use crate::domain::view::View;
use selachron_schemas::fold::{Act, Entry};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Sections of which figures are restated, as the lists are called on paper.
const SECTIONS: [(&str, &str); 3] = [("stock", "stock list"), ("stock_owned", "stock list by ownership"), ("ledger", "egg ledger")];

/// So many reasons stand in a row; its notes are all named.
const REASONS_TOLD_MAX: usize = 3;

/// All counts of a section, by their paths.
type Counts = BTreeMap<String, f64>;

/// The table without a row.
#[must_use]
pub fn nothing() -> PartTable {
    PartTable::new(
        "restatements",
        "Restatements",
        "Figures that the last issued report of these months, or of the twelve before, showed otherwise: as issued by the notes known then, \
         and by those known now, both for the instant of that report.",
        vec![
            words("list", "List"),
            words("line", "line"),
            words("cell", "cell"),
            words("as_issued", "as issued"),
            words("now", "now"),
            words("because", "because"),
            words("report", "report"),
        ],
    )
}

/// The restatements of the newest issued report of these months, and of that of the twelve before.
pub fn restatements(window: &Window<'_, '_>) -> PartTable {
    let mut table = nothing();
    let reports = &window.view.nursery().index().reports;
    let all: Vec<Issued> = reports.iter().filter_map(|seq| Issued::of(window.view, *seq)).collect();
    for twelve in [window.twelve.earlier(1), window.twelve] {
        if let Some(pair) = all.iter().rfind(|issued| issued.twelve == twelve).and_then(|issued| Pair::of(window.view, issued)) {
            pair.tell(&mut table);
        }
    }
    if all.is_empty() {
        table.footnote("No report was issued until this one was made.");
    }
    table
}

/// The last report that somebody issued, whatever its months.
pub struct LastIssued {
    /// How many notes it knew.
    pub known_at: u64,
    /// Of which year, and when it was issued.
    pub told: String,
}

/// The last report that was issued by what is known.
#[must_use]
pub fn last_issued(view: &View<'_>) -> Option<LastIssued> {
    let issued = view.nursery().index().reports.iter().rev().find_map(|seq| Issued::of(view, *seq))?;
    Some(LastIssued { known_at: issued.known_at, told: issued.signed_for })
}

/// A report that somebody signed.
struct Issued {
    event: EventId,
    signed_for: String,
    as_of: Instant,
    known_at: u64,
    twelve: Twelve,
}

impl Issued {
    /// What a note that issues a report says, if it stands.
    fn of(view: &View<'_>, seq: u64) -> Option<Self> {
        let value = (seq < view.known_at()).then(|| view.value(seq))??;
        let data: Value = serde_json::from_str(&value.data).ok()?;
        let text = |name: &str| data.get(name).and_then(Value::as_str);
        let (note, twelve) = (view.nursery().note(seq), months(text("query")?)?);
        Some(Self {
            event: note.id,
            signed_for: format!("of {}, issued on {}", twelve.year, view.day(note.recorded_at)),
            as_of: Instant::parse(text("as_of")?).ok()?,
            known_at: data.get("known_at").and_then(Value::as_u64).filter(|known_at| *known_at <= seq)?,
            twelve,
        })
    }
}

/// The months that an annual report was asked for; nothing where only a house's own profile says.
fn months(query: &str) -> Option<Twelve> {
    let asked = query.strip_prefix("/v1/reports/annual/")?;
    let (year, asked) = asked.split_once('?').unwrap_or((asked, ""));
    let year: i32 = year.parse().ok()?;
    let said = |wanted: &str| Some(asked.split('&').filter_map(|pair| pair.split_once('=')).find(|(name, _)| *name == wanted)?.1);
    match said("begins") {
        Some(begins) => Twelve::beginning(year, begins),
        None => Some(profile::months(&profile::shipped(said("profile").unwrap_or(PLAIN))?, year)),
    }
}

/// The lists at the instant of a report, by what was known then and by what is known now.
struct Pair<'w, 'a> {
    view: &'w View<'a>,
    issued: &'w Issued,
    then: Material,
    now: Material,
}

impl<'w, 'a> Pair<'w, 'a> {
    /// Nothing if the report tells of a later instant than is asked for.
    fn of(view: &'w View<'a>, issued: &'w Issued) -> Option<Self> {
        let days = Year::of(issued.twelve, view.zone())?;
        let as_of = days.until(issued.as_of);
        let at = |known_at| lists(&view.nursery().at(as_of, known_at), issued.twelve).ok();
        (as_of <= view.as_of()).then_some(())?;
        Some(Self { view, issued, then: at(issued.known_at)?, now: at(view.known_at())? })
    }

    fn tell(&self, table: &mut PartTable) {
        let mut by_presence = BTreeSet::new();
        for (section, list) in SECTIONS {
            let (then, now) = (counted(&self.then, section), counted(&self.now, section));
            let cells = cells_that_differ(&then, &now);
            let changed = if cells.is_empty() { Vec::new() } else { self.changed(section) };
            for cell in &cells {
                let (old, new) = (told(&then, cell), told(&now, cell));
                let path = cell.split_once('/').map_or("", |(_, path)| path);
                // A list by ownership that says the same again says nothing more.
                if section == "stock" {
                    by_presence.insert((path.to_owned(), new.clone()));
                } else if by_presence.contains(&(path.to_owned(), new.clone())) {
                    continue;
                }
                let (line, name) = path.rsplit_once('/').unwrap_or(("all species", path));
                let subjects: Vec<&Subject> = changed.iter().filter(|(_, cells)| cells.contains(cell)).map(|(id, _)| id).collect();
                let (because, notes) = self.why(&subjects);
                let cells = [list, line, &name.replace('_', " "), &old, &new, &because, &self.issued.signed_for].map(|text| json!(text));
                table.row(cells, Behind::about(subjects).on(notes).on([self.issued.event]));
            }
        }
    }

    /// Cases, animals and groups that count otherwise now, each with the cells in which they do.
    fn changed(&self, section: &str) -> Vec<(Subject, BTreeSet<String>)> {
        let (then, now) = (alone(&self.then, section), alone(&self.now, section));
        let differs = |id: &Subject| cells_that_differ(&then(Some(id)), &now(Some(id)));
        let mut changed: Vec<(Subject, BTreeSet<String>)> =
            self.touched().into_iter().map(|id| (id.clone(), differs(&id))).filter(|(_, cells)| !cells.is_empty()).collect();
        changed.sort();
        changed
    }

    /// Those that notes known since tell something of.
    fn touched(&self) -> BTreeSet<Subject> {
        let (then, now) = (&self.then, &self.now);
        let mut touched = BTreeSet::new();
        for (then, now) in [(&then.before, &now.before), (&then.closing, &now.closing)] {
            touched.extend(unlike(&then.eggs, &now.eggs, |egg| &egg.id));
            touched.extend(unlike(&then.animals, &now.animals, |animal| &animal.id));
            touched.extend(unlike(&then.groups, &now.groups, |group| &group.id));
            // A loan says whose they are, and whose that is which came out of them.
            let changed = unlike(&then.loans.all, &now.loans.all, |loan| &loan.id);
            let lent = then.loans.all.iter().chain(&now.loans.all).filter(|loan| changed.contains(&loan.id));
            let things: Vec<&Subject> = lent.flat_map(|loan| loan.agreed.told.which.iter().map(|thing| &thing.0)).collect();
            touched.extend(now.loans.came_out().filter(|id| now.loans.is_of(id, &things)).cloned());
            touched.extend(things.into_iter().cloned());
        }
        touched
    }

    /// Why they count otherwise, and the notes known since that say so.
    fn why(&self, subjects: &[&Subject]) -> (String, BTreeSet<EventId>) {
        let nursery = self.view.nursery();
        let mentions = subjects.iter().filter_map(|id| nursery.index().mentions.get(*id)).flat_map(|mentions| mentions.all());
        let known: BTreeSet<u64> = mentions.filter(|mention| mention.since < self.view.known_at()).map(|mention| mention.seq).collect();
        let since = (self.issued.known_at..self.view.known_at()).map(|seq| nursery.note(seq));
        let notes: Vec<&Note> = since.filter(|note| known.contains(&nursery.behind(note.seq))).collect();
        let mut reasons: Vec<String> = Vec::new();
        for reason in notes.iter().map(|note| because(note)) {
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
        let left_out = reasons.len().saturating_sub(REASONS_TOLD_MAX);
        reasons.truncate(REASONS_TOLD_MAX);
        if left_out > 0 {
            reasons.push(format!("and {left_out} more"));
        }
        (reasons.join("; "), notes.iter().map(|note| note.id).collect())
    }
}

fn because(note: &Note) -> String {
    let reason = note.act.as_ref().map_or("", |act| act.reason.as_str());
    match (&note.entry, &note.latereason) {
        (Entry::Act { act: Act::Correct(_), .. }, _) => format!("put right: {reason}"),
        (Entry::Act { act: Act::Retract, .. }, _) => format!("taken back: {reason}"),
        (Entry::Note(_), Some(late)) => format!("written afterwards: {late}"),
        (Entry::Note(_), None) => format!("a later note ({})", note.kind),
    }
}

/// Those of which the two say something different, or that only one knows; both in the order of their ids.
fn unlike<T: PartialEq>(then: &[T], now: &[T], id: impl Fn(&T) -> &Subject) -> BTreeSet<Subject> {
    let by_id = |all: &'_ [T]| all.iter().enumerate().map(|(at, one)| (id(one).clone(), at)).collect::<BTreeMap<Subject, usize>>();
    let (then_at, now_at) = (by_id(then), by_id(now));
    let same = |id: &Subject| then_at.get(id).zip(now_at.get(id)).is_some_and(|(old, new)| then[*old] == now[*new]);
    then_at.keys().chain(now_at.keys()).filter(|id| !same(id)).cloned().collect()
}

/// Cells that do not say the same, the three classes of one together; the total follows from the lines.
fn cells_that_differ(then: &Counts, now: &Counts) -> BTreeSet<String> {
    let value = |counts: &Counts, key: &String| counts.get(key).copied().unwrap_or_default();
    let differing = then.keys().chain(now.keys()).filter(|key| value(then, key) != value(now, key));
    differing.filter(|key| !key.contains("/all species/")).map(|key| without_class(key).to_owned()).collect()
}

/// A cell as it stands on paper.
fn told(counts: &Counts, cell: &str) -> String {
    let value = |key: &str| counts.get(key).copied().unwrap_or_default().to_string();
    let is_plain = cell.starts_with("ledger/") || cell.matches('/').count() == 1;
    if is_plain { value(cell) } else { CLASSES.map(|class| value(&format!("{cell}/{class}"))).join(".") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_are_read_from_what_was_asked() {
        let begins = |query: &str| months(query).map(|twelve| (twelve.year, twelve.month, twelve.day));
        assert_eq!(begins("/v1/reports/annual/2025?as_of=2025-12-31&known_at=9"), Some((2025, 1, 1)));
        assert_eq!(begins("/v1/reports/annual/2025"), Some((2025, 1, 1)));
        assert_eq!(begins("/v1/reports/annual/2025?profile=ours&begins=04-01"), Some((2025, 4, 1)));
        assert_eq!(begins("/v1/reports/annual/2025?profile=ours"), None, "which months a house's profile means nobody knows here");
        assert_eq!(begins("/v1/figures/hatch-rates?year=2025"), None);
    }

    #[test]
    fn cells_are_told_as_the_trade_writes_them() {
        let counts = |pairs: &[(&str, f64)]| -> Counts { pairs.iter().map(|(key, count)| ((*key).to_owned(), *count)).collect() };
        let then = counts(&[("stock/A b/end/males", 1.0), ("stock/all species/end/males", 1.0), ("ledger/A b/dead", 2.0)]);
        let now = counts(&[("stock/A b/end/females", 1.0), ("ledger/A b/dead", 2.0)]);
        let cells: Vec<String> = cells_that_differ(&then, &now).into_iter().collect();
        assert_eq!(cells, ["stock/A b/end"]);
        assert_eq!((told(&then, &cells[0]), told(&now, &cells[0])), ("1.0.0".to_owned(), "0.1.0".to_owned()));
        assert_eq!(told(&then, "ledger/A b/dead"), "2");
    }
}
