//! What is at odds at (V, S), told and counted.

use super::shape::{DiscrepancyCount, OpenDiscrepancy};
use crate::domain::discrepancy::{Discrepancy, Weight};
use chrono_tz::Tz;
use selachron_schemas::limits::{DISCREPANCY_FRESH_DAYS, DISCREPANCY_RECENT_DAYS};
use selachron_schemas::time::{Instant, whole_days};

/// The weightiest first.
const WEIGHTS: [Weight; 3] = [Weight::NeedsAPersonToday, Weight::WhenConvenient, Weight::MendsItself];

/// Those open, the weightiest first, and by id within one weight.
pub fn open(all: &[Discrepancy]) -> Vec<OpenDiscrepancy> {
    let mut open: Vec<&Discrepancy> = all.iter().filter(|discrepancy| discrepancy.open).collect();
    open.sort_by(|a, b| b.weight.cmp(&a.weight).then_with(|| a.id.cmp(&b.id)));
    open.into_iter().map(told).collect()
}

fn told(discrepancy: &Discrepancy) -> OpenDiscrepancy {
    OpenDiscrepancy {
        id: discrepancy.id.clone(),
        kind: discrepancy.kind.to_owned(),
        weight: words(discrepancy.weight).to_owned(),
        subjects: discrepancy.subjects.iter().map(ToString::to_string).collect(),
        events: discrepancy.events.iter().map(ToString::to_string).collect(),
        says: discrepancy.says.clone(),
    }
}

/// A weight in words.
pub fn words(weight: Weight) -> &'static str {
    match weight {
        Weight::MendsItself => "mends itself",
        Weight::WhenConvenient => "when convenient",
        Weight::NeedsAPersonToday => "needs a person today",
    }
}

/// How old a discrepancy is, or that it is settled; members of [`DiscrepancyCount`].
pub const AGES: [&str; 4] = ["open_to_7_days", "open_8_to_30_days", "open_over_30_days", "settled"];

/// Which of [`AGES`] it is.
pub fn age_of(discrepancy: &Discrepancy, as_of: Instant, zone: Tz) -> &'static str {
    let age_days = whole_days(discrepancy.since.day(zone), as_of.day(zone));
    let [fresh, recent, old, settled] = AGES;
    if !discrepancy.open {
        settled
    } else if age_days <= DISCREPANCY_FRESH_DAYS {
        fresh
    } else if age_days <= DISCREPANCY_RECENT_DAYS {
        recent
    } else {
        old
    }
}

/// One line for each weight, also where there is nothing to count.
pub fn counted(all: &[Discrepancy], as_of: Instant, zone: Tz) -> Vec<DiscrepancyCount> {
    let line = |weight: &Weight| {
        let count = |age: &str| {
            let counts = |found: &&Discrepancy| found.weight == *weight && age_of(found, as_of, zone) == age;
            all.iter().filter(counts).count() as u64
        };
        let [open_to_7_days, open_8_to_30_days, open_over_30_days, settled] = AGES.map(count);
        DiscrepancyCount { weight: words(*weight).to_owned(), open_to_7_days, open_8_to_30_days, open_over_30_days, settled }
    };
    WEIGHTS.iter().map(line).collect()
}
