//! Times for which a water was outside a band: by probe, from the first reading outside to the first
//! inside again, with the cases, animals and groups that were in that water then and for which the
//! band holds.

use super::bands::Bands;
use super::{Sample, by_probe};
use crate::domain::exposure::Stretch;
use crate::domain::state::{Band, Moment, Peak, WaterEpisode};
use crate::domain::view::View;
use selachron_schemas::names::Subject;
use selachron_schemas::time::{HOUR_MS, Instant};
use std::collections::BTreeSet;

/// A case, an animal or a group with where it was.
struct Lodged {
    who: Subject,
    species: Option<Subject>,
    stretches: Vec<Stretch>,
}

/// A probe's readings of one water.
struct Probed<'s> {
    water: &'s Subject,
    probe: &'s (String, Option<String>),
    read: &'s [&'s Sample],
}

impl View<'_> {
    /// Every time for which a water was outside a band, in order of time.
    #[must_use]
    pub fn water_episodes(&self) -> Vec<WaterEpisode> {
        let waters: Vec<&Subject> = self.subjects("system").chain(self.subjects("tank")).collect();
        let mut found: Vec<WaterEpisode> = Vec::new();
        let mut lodged: Option<Vec<Lodged>> = None;
        for water in waters {
            let Some(bands) = self.bands_of(water) else { continue };
            let mut episodes = self.episodes_of(water, &bands);
            if !episodes.is_empty() {
                let lodged = lodged.get_or_insert_with(|| self.lodged());
                episodes.iter_mut().for_each(|episode| self.expose(episode, &bands, lodged));
                // A band for a tank or species concerns nobody where none of them is.
                episodes.retain(|episode| episode.band.told.species.is_none() || is_somebody_in(episode));
            }
            found.append(&mut episodes);
        }
        found.sort_by_key(|episode| (episode.start.time, episode.start.event, episode.quantity, key_of(&episode.band)));
        found
    }

    fn episodes_of(&self, water: &Subject, bands: &Bands) -> Vec<WaterEpisode> {
        let (samples, _) = self.samples(water);
        let mut found = Vec::new();
        for (probe, read) in &by_probe(&samples) {
            for band in &bands.all {
                let before = found.len();
                self.cut(&Probed { water, probe, read }, band, &mut found);
                found[before..].iter_mut().for_each(|episode| self.ended_by_another(episode, &samples));
            }
        }
        found
    }

    /// Cuts the readings of a probe where they leave and enter the band.
    fn cut(&self, probed: &Probed<'_>, band: &Band, found: &mut Vec<WaterEpisode>) {
        let quantity = band.told.quantity;
        let values = probed.read.iter().filter_map(|sample| Some((*sample, sample.value(quantity)?)));
        let (mut inside, mut open): (Option<&Sample>, Option<(WaterEpisode, Instant)>) = (None, None);
        for (sample, value) in values {
            match (band.holds(value), open.take()) {
                (true, episode) => {
                    found.extend(episode.map(|(episode, last)| ended(episode, last, sample)));
                    inside = Some(sample);
                }
                (false, None) => open = Some((self.begun(probed, band, inside, (sample, value)), sample.time)),
                (false, Some((episode, last))) => open = Some((goes_on(episode, last, sample, value), sample.time)),
            }
        }
        found.extend(open.map(|(episode, last)| waited(episode, last, self.as_of())));
    }

    /// A probe that is not read any more says nothing: when it has been silent for as long as makes a
    /// gap, the first reading inside by another probe of that water ends its episode.
    fn ended_by_another(&self, episode: &mut WaterEpisode, samples: &[Sample]) {
        let silent = i64::from(self.policy().temperature_gap_hours_max) * HOUR_MS;
        let own = |sample: &&Sample| sample.reading.instrument == episode.instrument && sample.reading.point == episode.point;
        let told = |sample: &&Sample| sample.value(episode.quantity).is_some();
        let last = samples.iter().filter(|sample| own(sample) && told(sample)).map(|sample| sample.time).max();
        let Some(last) = last.filter(|_| episode.state == "open") else { return };
        let inside = |sample: &&Sample| sample.value(episode.quantity).is_some_and(|value| episode.band.holds(value));
        let other = samples.iter().find(|sample| !own(sample) && sample.time.0 - last.0 > silent && inside(sample));
        if let Some(other) = other {
            (episode.end, episode.state) = (Some(moment(other)), "over");
        }
    }

    fn begun(&self, probed: &Probed<'_>, band: &Band, inside: Option<&Sample>, (sample, value): (&Sample, f64)) -> WaterEpisode {
        WaterEpisode {
            water: probed.water.clone(),
            label: self.called(probed.water),
            quantity: band.told.quantity,
            band: band.clone(),
            instrument: probed.probe.0.clone(),
            point: probed.probe.1.clone(),
            not_before: inside.map(moment),
            start: moment(sample),
            end: None,
            state: "open",
            peak: Peak { value, when: moment(sample) },
            readings: 1,
            hollow: u64::from(sample.reading.hollow == Some(true)),
            longest_unread_hours: 0.0,
            tanks: Vec::new(),
            eggs: Vec::new(),
            animals: Vec::new(),
            groups: Vec::new(),
        }
    }

    fn lodged(&self) -> Vec<Lodged> {
        let of =
            |who: &Subject| Lodged { who: who.clone(), species: self.species_of(who), stretches: self.stretches(who, who.noun() == "egg") };
        self.subjects("egg").chain(self.subjects("animal")).chain(self.subjects("group")).map(of).collect()
    }

    fn species_of(&self, who: &Subject) -> Option<Subject> {
        match who.noun() {
            "egg" => self.case_facts(who).species,
            "group" => self.group_came(who).map(|came| came.species),
            _ => self.fold_animal(who, &self.facts_but_routine(who)).0?.species,
        }
    }

    /// Who was in that water then, of those for whom the band is the nearest.
    fn expose(&self, episode: &mut WaterEpisode, bands: &Bands, lodged: &[Lodged]) {
        let (from, to) = (episode.start.time, episode.end.map_or(self.as_of(), |end| end.time));
        let in_water = |stretch: &&Stretch| {
            let here = stretch.water == episode.water || stretch.tank == episode.water;
            here && stretch.from <= to && stretch.to.is_none_or(|left| left > from)
        };
        let (mut tanks, mut exposed) = (BTreeSet::new(), BTreeSet::new());
        for one in lodged {
            for stretch in one.stretches.iter().filter(in_water) {
                let nearest = bands.nearest(episode.quantity, &stretch.tank, one.species.as_ref());
                if nearest.is_some_and(|band| *band == episode.band) {
                    tanks.insert(stretch.tank.clone());
                    exposed.insert(&one.who);
                }
            }
        }
        let of = |noun: &str| exposed.iter().filter(|who| who.noun() == noun).map(|who| (*who).clone()).collect::<Vec<Subject>>();
        (episode.eggs, episode.animals, episode.groups) = (of("egg"), of("animal"), of("group"));
        match (&episode.band.told.tank, &episode.band.told.species) {
            (Some(tank), _) => drop(tanks.insert(tank.clone())),
            (None, None) => tanks.extend(self.tanks_then(&episode.water, from)),
            _ => {}
        }
        episode.tanks = tanks.into_iter().collect();
    }

    /// Tanks that had that water at `time`.
    fn tanks_then(&self, water: &Subject, time: Instant) -> Vec<Subject> {
        if water.noun() == "tank" {
            return vec![water.clone()];
        }
        let tanks = self.subjects("tank").filter(|tank| self.system_at(tank, time).as_ref() == Some(water));
        tanks.cloned().collect()
    }
}

fn is_somebody_in(episode: &WaterEpisode) -> bool {
    !(episode.eggs.is_empty() && episode.animals.is_empty() && episode.groups.is_empty())
}

fn key_of(band: &Band) -> (Option<Subject>, Option<Subject>) {
    (band.told.tank.clone(), band.told.species.clone())
}

fn moment(sample: &Sample) -> Moment {
    sample.reading.when.unwrap_or(Moment { time: sample.time, timeafter: None, event: sample.event })
}

fn waited(mut episode: WaterEpisode, last: Instant, now: Instant) -> WaterEpisode {
    #[allow(clippy::cast_precision_loss, reason = "hours of a record fit many times")]
    let hours = (now.0 - last.0) as f64 / HOUR_MS as f64;
    episode.longest_unread_hours = episode.longest_unread_hours.max(hours);
    episode
}

fn ended(episode: WaterEpisode, last: Instant, inside: &Sample) -> WaterEpisode {
    WaterEpisode { end: Some(moment(inside)), state: "over", ..waited(episode, last, inside.time) }
}

fn goes_on(episode: WaterEpisode, last: Instant, sample: &Sample, value: f64) -> WaterEpisode {
    let mut episode = waited(episode, last, sample.time);
    episode.readings += 1;
    episode.hollow += u64::from(sample.reading.hollow == Some(true));
    if episode.band.beyond(value) > episode.band.beyond(episode.peak.value) {
        episode.peak = Peak { value, when: moment(sample) };
    }
    episode
}
