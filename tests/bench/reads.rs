//! How long the folds take: learning a season, listing it, weighing one note as the answer to a
//! POST does. Prints medians of several rounds.
//!
//! `cargo bench -p selachron-tests --bench reads [-- EGGS LOOKS]`

use selachron_record::domain::nursery::Nursery;
use selachron_schemas::event::Event;
use selachron_schemas::merkle::sha256;
use selachron_schemas::receipt::Leaf;
use selachron_schemas::replay::keys::KeyBook;
use selachron_schemas::time::{DAY_MS, Instant};
use selachron_tests::fixture::{Hand, ulid};
use serde_json::{Value, json};
use std::hint::black_box;
use std::time::Instant as Watch;

/// Cases of the season.
const EGGS: u64 = 1_000;
/// Looks at each.
const LOOKS: u64 = 20;
/// Feedings of one animal, readings of one system.
const ROUTINE: u64 = 2_000;
/// Rounds.
const ROUNDS: usize = 7;

struct Season {
    nursery: Nursery,
    notes: Vec<(Event, Leaf)>,
}

impl Season {
    fn note(&mut self, hand: &mut Hand, kind: &str, subject: &str, day: u64, data: &Value) {
        let time = Instant(1_767_225_600_000 + day as i64 * DAY_MS);
        let body = hand.body(kind, subject, time, data);
        let mut event = Event::parse(&body).expect("a note");
        let seq = self.notes.len() as u64;
        event.id = ulid(1, seq);
        let leaf = Leaf {
            seq,
            recorded_at: Instant(time.0 + seq as i64),
            subject_version: 1,
            body_sha256: sha256(&body),
            signatures: vec![(hand.keyid, [0; 64])],
        };
        self.notes.push((event, leaf));
    }

    fn learned(&self) -> Nursery {
        let (mut nursery, book) = (Nursery::default(), KeyBook::default());
        self.notes.iter().for_each(|(event, leaf)| nursery.learn(event, leaf, &book));
        nursery
    }
}

fn season(eggs: u64, looks: u64) -> Season {
    let (mut hand, mut season) = (Hand::new(9), Season { nursery: Nursery::default(), notes: Vec::new() });
    let (species, tank, system) = (format!("species/{}", ulid(2, 1)), format!("tank/{}", ulid(3, 1)), format!("system/{}", ulid(4, 1)));
    season.note(
        &mut hand,
        "species.listed.v1",
        &species,
        0,
        &json!({"scientific_name": "I. e.", "common_name": "i", "length_basis": "total"}),
    );
    season.note(&mut hand, "system.set_up.v1", &system, 0, &json!({"label": "W", "water": "tropical"}));
    season.note(&mut hand, "tank.set_up.v1", &tank, 0, &json!({"label": "T", "purpose": "incubation", "system": system}));
    let egg = |number: u64| format!("egg/{}", ulid(5, number));
    for number in 0..eggs {
        let data = json!({"label": format!("E{number}"), "species": species, "from_tank": tank, "laid": "pair", "case": "whole",
            "yolk": "seen", "to_tank": tank});
        season.note(&mut hand, "egg.collected.v1", &egg(number), 0, &data);
    }
    for look in 0..looks {
        let data = json!({"seen_into": true, "band": look * 7 / looks, "movement": "moving", "findings": ["air inside"]});
        (0..eggs).for_each(|number| season.note(&mut hand, "egg.candled.v1", &egg(number), look * 7, &data));
    }
    let animal = format!("animal/{}", ulid(6, 1));
    let data = json!({"label": "A", "species": species, "sex": "female", "from": "x", "state": "alive", "origin": "wild", "tank": tank});
    season.note(&mut hand, "animal.received.v1", &animal, 0, &data);
    for day in 0..ROUTINE {
        season.note(&mut hand, "animal.fed.v1", &animal, day, &json!({"offered": [{"food": "squid"}], "eaten": "all"}));
        season.note(&mut hand, "water.measured.v1", &system, day, &json!({"temperature_c": 24.5, "instrument": "probe 1"}));
    }
    season.nursery = season.learned();
    season
}

/// The median of several rounds, in microseconds.
fn median_us<T>(mut work: impl FnMut() -> T) -> f64 {
    let mut round = || {
        let start = Watch::now();
        black_box(work());
        start.elapsed().as_secs_f64() * 1e6
    };
    let mut times: Vec<f64> = (0..ROUNDS).map(|_| round()).collect();
    times.sort_by(f64::total_cmp);
    times[ROUNDS / 2]
}

fn main() {
    let mut numbers = std::env::args().skip(1).filter_map(|word| word.parse().ok());
    let (eggs, looks) = (numbers.next().unwrap_or(EGGS), numbers.next().unwrap_or(LOOKS));
    let season = season(eggs, looks);
    let count = season.notes.len();
    println!("{eggs} eggs with {looks} looks each, {ROUTINE} feedings of one animal and readings of one system: {count} notes");
    println!("learning one note                  {:>10.2} us", median_us(|| season.learned()) / count as f64);
    let end = Instant::END;
    println!("listing all eggs                   {:>10.2} ms", median_us(|| season.nursery.at(end, u64::MAX).eggs()) / 1e3);
    println!("everything at odds                 {:>10.2} ms", median_us(|| season.nursery.at(end, u64::MAX).discrepancies()) / 1e3);
    // As if the note had just come.
    let weigh = |seq: u64| {
        let at = season.nursery.note(seq).recorded_at;
        let weighed = || season.nursery.at(at, seq + 1).discrepancies_of_event(seq).len();
        median_us(|| (0..100).map(|_| weighed()).sum::<usize>()) / 100.0
    };
    println!("weighing the last look at an egg   {:>10.2} us", weigh(3 + eggs * looks + 1));
    println!("weighing a feeding                 {:>10.2} us", weigh(count as u64 - 2));
    println!("weighing a reading                 {:>10.2} us", weigh(count as u64 - 1));
}
