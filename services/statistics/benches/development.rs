//! Hatch windows of 10,000 cases in 20 tanks with 300 daily readings and 12 looks each, beside the
//! straightforward way in the same run: the same model by plain nested loops, each hatch day found
//! along the log for itself. Prints medians of several rounds; machines are noisy, so read the
//! ratios. The answers are compared too.
//!
//! `cargo bench -p selachron-statistics --bench development [-- ROUNDS]`.

#[path = "development/season.rs"]
mod season;

use season::{Egg, MISFITS, Season, bands, law, log};
use selachron_statistics::development::{Case, Settings, Sighting, Stay, Track, develop};
use selachron_statistics::incubation::{Between, TemperatureLog, TemperatureReading};
use std::time::Instant as Watch;

/// Rounds of which the median is printed.
const ROUNDS: usize = 5;
/// Cases in all.
const CASES: usize = 10_000;
/// Tanks in all.
const TANKS: usize = 20;
/// Readings of each tank.
const READINGS: usize = 300;
/// The last look, in days: 12 looks a week apart.
const LOOKED_UNTIL: f64 = 150.0;
/// Cases that the peer is asked about.
const OF_PEER: usize = 20;
/// Steps of the factor in the peer.
const PEER_STEPS: usize = 400;

fn main() {
    let rounds = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(ROUNDS);
    let seasons: Vec<Season> = (0..TANKS as u64 / 4).map(|seed| Season::new(seed, MISFITS[0])).collect();
    let logs: Vec<TemperatureLog> = seasons.iter().flat_map(|season| season.tanks.iter().map(|tank| log(&tank.read[..READINGS]))).collect();
    let eggs: Vec<(usize, &Egg)> = (0..CASES)
        .map(|number| {
            let season = number % seasons.len();
            let egg = &seasons[season].eggs[(number / seasons.len()) % season::CASES];
            (season * 4 + egg.tank, egg)
        })
        .collect();
    let (mut medians, mut seconds) = (Vec::new(), Vec::new());
    for _ in 0..rounds {
        let watch = Watch::now();
        medians = ours(&logs, &eggs);
        seconds.push(watch.elapsed().as_secs_f64());
    }
    seconds.sort_unstable_by(f64::total_cmp);
    let ours = seconds[rounds / 2];
    println!("{CASES} cases, {TANKS} tanks: ours {ours:.3} s, tracks included ({:.1} us a case)", 1e6 * ours / CASES as f64);
    let watch = Watch::now();
    let theirs: Vec<f64> = eggs[..OF_PEER].iter().map(|(tank, egg)| peer(&logs[*tank], egg)).collect();
    let peer = watch.elapsed().as_secs_f64() / OF_PEER as f64 * CASES as f64;
    let apart = medians.iter().zip(&theirs).map(|(one, other)| (one - other).abs()).fold(0.0, f64::max);
    assert!(apart < 0.5, "medians {apart} days apart");
    println!(
        "plain nested loops: {peer:.1} s for as many (from {OF_PEER}); ours takes {:.5} of it; medians within {apart:.2} d",
        ours / peer
    );
}

fn looks_of(egg: &Egg) -> Vec<selachron_statistics::development::Look> {
    egg.looks.iter().copied().filter(|look| look.day <= LOOKED_UNTIL).collect()
}

fn ours(logs: &[TemperatureLog], eggs: &[(usize, &Egg)]) -> Vec<f64> {
    let (law, bands) = (law(), bands());
    let tracks: Vec<Track> = logs.iter().map(|log| Track::new(log.clone(), &law, Settings::default())).collect();
    let median = |(tank, egg): &(usize, &Egg)| {
        let (looks, stays) = (looks_of(egg), [Stay { from_day: egg.window.0, track: &tracks[*tank] }]);
        let (begun_from_day, begun_to_day) = egg.window;
        let case =
            Case { stays: &stays, begun_from_day, begun_to_day, now_day: LOOKED_UNTIL, looks: &looks, waiting_day: Some(LOOKED_UNTIL) };
        develop(&law, &bands, &case).expect("a window").expected.p50_day
    };
    eggs.iter().map(median).collect()
}

/// The same model with nothing shared: start, rate and factor in nested loops, and each day found
/// along the log.
fn peer(read: &TemperatureLog, egg: &Egg) -> f64 {
    let (law, bands, looks) = (law(), bands(), looks_of(egg));
    let track = Track::new(read.clone(), &law, Settings::default());
    let mut readings: Vec<TemperatureReading> = read.readings().to_vec();
    readings.push(TemperatureReading { day: read.ends_day() + 1e-6, temperature_c: track.ahead().mean_c });
    readings.push(TemperatureReading { day: read.ends_day() + 1000.0, temperature_c: track.ahead().mean_c });
    let (log, mut days) = (TemperatureLog::new(readings).expect("readings"), Vec::new());
    for start in (0..5).map(|part| egg.window.0 + (egg.window.1 - egg.window.0) * (f64::from(part) + 0.5) / 5.0) {
        for (rate, weight) in law.rates() {
            let done: Vec<f64> =
                looks.iter().map(|look| log.progress(rate, start, look.day.max(start), Between::Linear).expect("a sum")).collect();
            for step in 0..PEER_STEPS {
                let z = -4.0 + 8.0 * (step as f64 + 0.5) / PEER_STEPS as f64;
                let needed = libm::exp(z * law.sigma());
                let seen = looks.iter().zip(&done).map(|(look, done)| match look.saw {
                    Sighting::Band(band) => bands.likelihood(band, done / needed).expect("a band"),
                    Sighting::Slits { .. } => 1.0,
                });
                let weight = weight * libm::exp(-z * z / 2.0) * seen.product::<f64>();
                let day = log.day_reaching(rate, start, needed, Between::Linear).expect("a rate").expect("a long log");
                days.push((day, weight));
            }
        }
    }
    days.sort_unstable_by(|one, other| one.0.total_cmp(&other.0));
    let whole: f64 = days.iter().map(|(_, weight)| weight).sum();
    let mut sum = 0.0;
    days.iter()
        .find(|(_, weight)| {
            sum += weight;
            sum >= whole / 2.0
        })
        .map_or(f64::NAN, |(day, _)| *day)
}
