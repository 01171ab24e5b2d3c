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

fn words(weight: Weight) -> &'static str {
    match weight {
        Weight::MendsItself => "mends itself",
        Weight::WhenConvenient => "when convenient",
        Weight::NeedsAPersonToday => "needs a person today",
    }
}

/// One line for each weight, also where there is nothing to count.
pub fn counted(all: &[Discrepancy], as_of: Instant, zone: Tz) -> Vec<DiscrepancyCount> {
    WEIGHTS.iter().map(|weight| line(all.iter().filter(|found| found.weight == *weight), words(*weight), as_of, zone)).collect()
}

fn line<'a>(found: impl Iterator<Item = &'a Discrepancy>, weight: &str, as_of: Instant, zone: Tz) -> DiscrepancyCount {
    let weight = weight.to_owned();
    let mut line = DiscrepancyCount { weight, open_to_7_days: 0, open_8_to_30_days: 0, open_over_30_days: 0, settled: 0 };
    for discrepancy in found {
        let age_days = whole_days(discrepancy.since.day(zone), as_of.day(zone));
        let place = if !discrepancy.open {
            &mut line.settled
        } else if age_days <= DISCREPANCY_FRESH_DAYS {
            &mut line.open_to_7_days
        } else if age_days <= DISCREPANCY_RECENT_DAYS {
            &mut line.open_8_to_30_days
        } else {
            &mut line.open_over_30_days
        };
        *place += 1;
    }
    line
}
