//! Water over time: the readings of a system or a tank with what follows from them, by probe, held
//! against bands. Bands are house rules per tank and species; where none is set common practice
//! stands in and says so. Whether animals are in danger is judged at the tank, by the institution's
//! process and its veterinarian.
//!
//! Read in this order: `derived`, `bands`, `episodes`.

mod bands;

mod derived;

mod episodes;

use super::note::Note;
use super::state::{Derived, EventId, Probe, Quantity, ReadingTold, WaterGap, WaterReading, WaterSeries};
use super::told::Told;
use super::view::View;
use bands::Bands;
use selachron_schemas::names::Subject;
use selachron_schemas::time::{DAY_MS, HOUR_MS, Instant};
use std::collections::BTreeMap;

/// A reading with its place in the order.
pub(super) struct Sample {
    pub time: Instant,
    pub event: EventId,
    pub person: Option<String>,
    pub reading: WaterReading,
    pub derived: Derived,
    /// Widest difference to its probe's readings of the day before, °C.
    pub change_c: Option<f64>,
}

impl Sample {
    /// The value of a quantity, read or derived.
    pub fn value(&self, quantity: Quantity) -> Option<f64> {
        let derived = |figure: &Option<super::state::Figure>| figure.as_ref().and_then(|figure| figure.value);
        match quantity {
            Quantity::TemperatureC => self.reading.temperature_c,
            Quantity::TemperatureChangeCPerDay => self.change_c,
            Quantity::SalinityPsu => self.reading.salinity_psu,
            Quantity::Ph => self.reading.ph,
            Quantity::UnIonisedAmmoniaMgLN => derived(&self.derived.un_ionised_ammonia_mg_l_n),
            Quantity::NitriteMgLN => self.reading.nitrite_mg_l_n,
            Quantity::NitrateMgLN => self.reading.nitrate_mg_l_n,
            Quantity::OxygenPercent => self.reading.oxygen_percent.or_else(|| derived(&self.derived.oxygen_percent)),
        }
    }

    /// The probe: instrument and point.
    pub fn probe(&self) -> ProbeName {
        (self.reading.instrument.clone(), self.reading.point.clone())
    }
}

/// Instrument and point.
pub(super) type ProbeName = (String, Option<String>);

/// Readings by probe, each in order of time.
pub(super) type ByProbe<'s> = BTreeMap<ProbeName, Vec<&'s Sample>>;

pub(super) fn by_probe(samples: &[Sample]) -> ByProbe<'_> {
    let mut probes = ByProbe::new();
    for sample in samples {
        probes.entry(sample.probe()).or_default().push(sample);
    }
    probes
}

impl View<'_> {
    /// The readings of a water between two moments, with what follows from them; `None` if no note
    /// that stands sets it up.
    #[must_use]
    pub fn water_series(&self, water: &Subject, from: Option<Instant>, to: Option<Instant>) -> Option<WaterSeries> {
        let bands = self.bands_of(water)?;
        let (samples, before_it_existed) = self.samples(water);
        let within = |sample: &Sample| from.is_none_or(|from| sample.time >= from) && to.is_none_or(|to| sample.time <= to);
        let samples: Vec<Sample> = samples.into_iter().filter(within).collect();
        let (probes, gaps) = (self.probes(&samples), self.gaps(&samples));
        Some(WaterSeries {
            water: water.clone(),
            label: self.called(water),
            since: self.creations(water).first().map(|fact| fact.time()),
            probes,
            gap_hours_max: self.policy().temperature_gap_hours_max,
            gaps,
            readings: samples.into_iter().map(|sample| told(sample, &bands)).collect(),
            bands: bands.all,
            before_it_existed,
        })
    }

    /// Every reading of a water since it existed, in order of time, and those from before.
    pub(super) fn samples(&self, water: &Subject) -> (Vec<Sample>, Vec<EventId>) {
        let since = self.creations(water).first().map(|fact| fact.time());
        let mut samples = self.raw_samples(water);
        samples.sort_by_key(|sample| (sample.time, sample.event));
        let early = samples.partition_point(|sample| since.is_some_and(|since| sample.time < since));
        let before = samples.drain(..early).map(|sample| sample.event).collect();
        derived::derive(&mut samples, i64::from(self.policy().temperature_gap_hours_max) * HOUR_MS);
        changes(&mut samples);
        (samples, before)
    }

    fn raw_samples(&self, water: &Subject) -> Vec<Sample> {
        let mentions = self.nursery().index().mentions.get(water);
        let known = mentions.into_iter().flat_map(|mentions| &mentions.routine).filter(|mention| mention.since < self.known_at());
        let facts = known.filter_map(|mention| self.fact(mention.seq)).filter(|fact| fact.subject() == water);
        let read = facts.filter_map(|fact| {
            let Told::WaterMeasured(told) = fact.told() else { return None };
            let (time, note): (Instant, &Note) = (fact.time(), fact.note);
            let hollow = self.hollow(&told.instrument, time);
            let reading = WaterReading { when: Some(fact.moment()), hollow, ..(**told).clone() };
            let person = note.person().map(str::to_owned);
            Some(Sample { time, event: note.id, person, reading, derived: Derived::default(), change_c: None })
        });
        read.collect()
    }

    fn probes(&self, samples: &[Sample]) -> Vec<Probe> {
        let told = |((instrument, point), read): (ProbeName, Vec<&Sample>)| {
            let between = [read[0].time, read[read.len() - 1].time];
            let hollow = read.iter().filter(|sample| sample.reading.hollow == Some(true)).count() as u64;
            let (calibrated_until, calibration) = self.calibration(&instrument);
            Probe { instrument, point, calibrated_until, calibration, readings: read.len() as u64, hollow, between }
        };
        by_probe(samples).into_iter().map(told).collect()
    }

    /// How the instrument of that label stands now.
    fn calibration(&self, label: &str) -> (Option<chrono::NaiveDate>, &'static str) {
        let bearers = self.nursery().index().labels.get(label).into_iter().flatten();
        let known = bearers.filter(|bearer| bearer.noun() == "instrument" && self.exists(bearer));
        let Some(instrument) = known.filter_map(|id| self.fold_instrument(id).0).next() else { return (None, "not known") };
        let state = match (instrument.retired.is_some(), self.hollow(label, self.as_of())) {
            (true, _) => "taken out of use",
            (false, Some(true)) => "past its interval: readings are hollow",
            (false, Some(false)) => "in its interval",
            (false, None) => "no interval is set",
        };
        (instrument.calibrated_until, state)
    }

    fn gaps(&self, samples: &[Sample]) -> Vec<WaterGap> {
        let longest = i64::from(self.policy().temperature_gap_hours_max) * HOUR_MS;
        let mut gaps = Vec::new();
        for ((instrument, point), read) in by_probe(samples) {
            for pair in read.windows(2).filter(|pair| pair[1].time.0 - pair[0].time.0 > longest) {
                gaps.push(WaterGap { instrument: instrument.clone(), point: point.clone(), from: pair[0].time, to: pair[1].time });
            }
        }
        gaps.sort_by(|a, b| (a.from, &a.instrument, &a.point).cmp(&(b.from, &b.instrument, &b.point)));
        gaps
    }
}

fn told(sample: Sample, bands: &Bands) -> ReadingTold {
    let is_outside = |quantity: &Quantity| {
        let value = sample.value(*quantity);
        value.is_some_and(|value| bands.of(*quantity).any(|band| !band.holds(value)))
    };
    let outside = Quantity::ALL.into_iter().filter(is_outside).collect();
    ReadingTold { outside, reading: sample.reading, person: sample.person, derived: sample.derived }
}

/// The widest difference of each temperature to those of the same probe in the day before it.
fn changes(samples: &mut [Sample]) {
    let mut recent: BTreeMap<ProbeName, Vec<(Instant, f64)>> = BTreeMap::new();
    for sample in samples {
        let Some(value) = sample.reading.temperature_c else { continue };
        let before = recent.entry(sample.probe()).or_default();
        before.retain(|(time, _)| sample.time.0 - time.0 <= DAY_MS);
        sample.change_c = before.iter().map(|(_, earlier)| (value - earlier).abs()).reduce(f64::max);
        before.push((sample.time, value));
    }
}
