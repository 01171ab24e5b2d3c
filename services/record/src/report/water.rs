//! The water of a system as a drawing: one quantity, a line for each probe, the band, gaps left as
//! gaps, and the finding in words.

use crate::domain::state::{Band, Quantity, ReadingTold, WaterSeries};
use chrono_tz::Tz;
use selachron_schemas::time::{DAY_MS, Instant};
use selachron_statistics::plot::Caption;
use selachron_statistics::plot::line::{Against, Line, Reading, lines};
use std::collections::BTreeMap;

/// Days that are labelled under the axis, at most.
const DAYS_LABELLED: i64 = 6;

/// Hours of a day.
const DAY_HOURS: f64 = 24.0;

/// The value of a quantity that a reading tells, where it is one that can be drawn.
fn value(reading: &ReadingTold, quantity: Quantity) -> Option<f64> {
    let figure = |figure: &Option<crate::domain::state::Figure>| figure.as_ref().and_then(|figure| figure.value);
    match quantity {
        Quantity::TemperatureC => reading.reading.temperature_c,
        Quantity::TemperatureChangeCPerDay => None,
        Quantity::SalinityPsu => reading.reading.salinity_psu,
        Quantity::Ph => reading.reading.ph,
        Quantity::UnIonisedAmmoniaMgLN => figure(&reading.derived.un_ionised_ammonia_mg_l_n),
        Quantity::NitriteMgLN => reading.reading.nitrite_mg_l_n,
        Quantity::NitrateMgLN => reading.reading.nitrate_mg_l_n,
        Quantity::OxygenPercent => reading.reading.oxygen_percent.or_else(|| figure(&reading.derived.oxygen_percent)),
    }
}

/// The drawing of one quantity.
#[must_use]
pub fn water(series: &WaterSeries, quantity: Quantity, zone: Tz) -> String {
    let mut probes: BTreeMap<String, Vec<(Instant, f64, bool)>> = BTreeMap::new();
    for reading in &series.readings {
        let (Some(value), Some(when)) = (value(reading, quantity), reading.reading.when) else { continue };
        let point = reading.reading.point.as_ref().map_or(String::new(), |point| format!(", {point}"));
        let hollow = reading.reading.hollow == Some(true);
        probes.entry(format!("{}{point}", reading.reading.instrument)).or_default().push((when.time, value, hollow));
    }
    let begin = probes.values().flatten().map(|(time, _, _)| *time).min().unwrap_or(Instant(0));
    let end = probes.values().flatten().map(|(time, _, _)| *time).max().unwrap_or(begin);
    let band = series.bands.iter().find(|band| band.told.quantity == quantity && band.told.tank.is_none() && band.told.species.is_none());
    let drawn: Vec<Line> = probes.iter().map(|(label, read)| line(label, read, begin)).collect();
    let (name, unit) = quantity.words();
    let against = Against {
        low: band.and_then(|band| band.told.low),
        high: band.and_then(|band| band.told.high),
        gap_days_max: f64::from(series.gap_hours_max) / DAY_HOURS,
        days: days(begin, end, zone),
        axis: format!("days in {zone}"),
        values: format!("{name}, {unit}"),
    };
    let caption = Caption {
        id: format!("water-{}", quantity.name().replace('_', "-")),
        title: format!("{} of {}", capital(name), series.label),
        finding: finding(&probes, band, unit, against.gap_days_max),
    };
    lines(&caption, &drawn, &against)
}

fn line(label: &str, read: &[(Instant, f64, bool)], begin: Instant) -> Line {
    let reading = |(time, value, hollow): &(Instant, f64, bool)| Reading { day: days_after(begin, *time), value: *value, hollow: *hollow };
    Line { label: label.to_owned(), readings: read.iter().map(reading).collect() }
}

#[allow(clippy::cast_precision_loss, reason = "milliseconds of a record fit a double")]
fn days_after(begin: Instant, time: Instant) -> f64 {
    (time.0 - begin.0) as f64 / DAY_MS as f64
}

/// A few local days with their labels.
fn days(begin: Instant, end: Instant, zone: Tz) -> Vec<(f64, String)> {
    let (first, last) = (begin.day(zone), end.day(zone));
    let step = ((last - first).num_days() / DAYS_LABELLED).max(1);
    let days = (0..).map(|at| first + chrono::Duration::days(at * step)).take_while(|day| *day <= last);
    let placed = days.map(|day| (days_after(begin, Instant::start_of_day(day, zone)).max(0.0), day.format("%Y-%m-%d").to_string()));
    placed.collect()
}

fn finding(probes: &BTreeMap<String, Vec<(Instant, f64, bool)>>, band: Option<&Band>, unit: &str, gap_days_max: f64) -> String {
    let values: Vec<f64> = probes.values().flatten().map(|(_, value, _)| *value).collect();
    let Some((low, high)) = values.iter().copied().reduce(f64::min).zip(values.iter().copied().reduce(f64::max)) else {
        return "Nothing was read.".to_owned();
    };
    let outside = band.map_or(0, |band| values.iter().filter(|value| !band.holds(**value)).count());
    let of_band = band
        .map_or("No band is set.".to_owned(), |band| format!("{outside} of them lie outside the band, {} ({}).", band.range(), band.basis));
    let hollow = probes.values().flatten().filter(|(_, _, hollow)| *hollow).count();
    let gap = |read: &&[(Instant, f64, bool)]| days_after(read[0].0, read[1].0) > gap_days_max;
    let gaps: usize = probes.values().map(|read| read.windows(2).filter(gap).count()).sum();
    format!(
        "{} readings from {low} to {high} {unit}. {of_band} {hollow} were taken past the calibration of the instrument; {gaps} gaps are left open.",
        values.len()
    )
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
