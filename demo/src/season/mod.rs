//! An invented season of an invented nursery, as data: every note that will be written, by whom,
//! when it happened, when it was signed, and when it reached the log. The same seed gives the
//! same season. No clock, no network, no disk.
//!
//! Read in this order:
//! * [`chance`] and [`calendar`]: where numbers and days come from;
//! * [`people`] and [`note`]: who signs, and what a planned note is;
//! * [`diary`]: the order of signing and sending;
//! * [`stock`] and [`house`]: species, keys, house rules, tanks, adults;
//! * [`laying`] and [`received`]: where cases come from;
//! * [`incubating`] and [`endings`]: what is seen of them, and how they end;
//! * [`rearing`] and [`water`]: young, adults, readings;
//! * [`plant`] and [`daily`]: instruments, light, the heater that fails; rounds, food, hand-overs;
//! * [`breeders`] and [`brood`]: what adults do and what is done for them; animals counted as a group;
//! * [`mishaps`]: what is lost for a night and found, and what becomes of bodies;
//! * [`putting_right`]: what goes wrong with the notes themselves.

pub mod chance;

pub mod calendar;

pub mod people;

pub mod note;

pub mod diary;

pub mod stock;

pub mod house;

pub mod laying;

pub mod received;

pub mod incubating;

pub mod endings;

pub mod rearing;

pub mod water;

pub mod plant;

pub mod daily;

pub mod breeders;

pub mod brood;

pub mod mishaps;

pub mod putting_right;

use chance::Chance;
use diary::Diary;
use endings::Hatchling;
use house::House;
use incubating::Watch;
use laying::Case;
use note::{Handle, Planned, Step};
use people::Signer;
use putting_right::Story;
use rearing::Nursling;
use std::collections::BTreeMap;

/// The season that the demo plays if nobody names a seed.
pub const USUAL_SEED: u64 = 7;
/// The case whose young's history is told.
const TOLD_CASE: &str = "bamboo-01";
/// The case that is not in its place one evening.
const MISLAID_CASE: &str = "epaulette-13";
/// The case one of whose looks is put right.
const MISTAPPED_CASE: &str = "bamboo-13";

/// A whole season.
#[derive(Debug, Clone, PartialEq)]
pub struct Season {
    /// Its seed.
    pub seed: u64,
    /// All notes, in the order in which they were signed.
    pub notes: Vec<Planned>,
    /// What the log is asked to take, in the order of its clock. Before a step every note signed
    /// until then is written.
    pub steps: Vec<Step>,
    /// The history that is told at length.
    pub story: Story,
    places: Vec<usize>,
}

type Looks = BTreeMap<String, Vec<(Handle, Option<u8>)>>;

impl Season {
    /// The season of that seed.
    #[must_use]
    pub fn from_seed(seed: u64) -> Self {
        let mut diary = Diary::new(seed);
        let mut house = House::set_up(seed, &mut diary);
        house.an_arrival(&mut diary);
        water::read(seed, &house, &mut diary);
        plant::look_after(seed, &house, &mut diary);
        daily::work(seed, &house, &mut diary);
        breeders::watch(seed, &house, &mut diary);
        brood::keep(seed, &house, &mut diary);
        let (looks, young) = watch_cases(seed, &house, &mut diary);
        rearing::keep_adults(seed, &house, &mut diary);
        let story = rear_young(seed, &house, &young, &mut diary);
        if let Some(looks) = looks.get(MISTAPPED_CASE) {
            putting_right::wrong_band(looks, &mut diary);
        }
        if let Some(looks) = looks.get(MISLAID_CASE) {
            mishaps::case_mislaid(looks, &mut diary);
        }
        mishaps::afterwards(seed, &mut diary);
        putting_right::endorse_trainee(&mut diary);
        putting_right::counts_that_never_come(&house, &mut diary);
        putting_right::lost_tablet(&house, &mut diary);
        putting_right::issue_report(&mut diary);
        Self::put_in_order(seed, diary, story)
    }

    fn put_in_order(seed: u64, diary: Diary, story: Story) -> Self {
        let (notes, steps) = diary.finish();
        let mut places = vec![0; notes.len()];
        for (place, note) in notes.iter().enumerate() {
            places[note.handle.0] = place;
        }
        Self { seed, notes, steps, story, places }
    }

    /// The note of that handle.
    #[must_use]
    pub fn note(&self, handle: Handle) -> &Planned {
        &self.notes[self.places[handle.0]]
    }

    /// The pseudonym of a signer.
    #[must_use]
    pub fn person(&self, signer: Signer) -> String {
        house::person(self.seed, signer)
    }

    /// How many notes reach the log.
    #[must_use]
    pub fn sent(&self) -> usize {
        self.steps.iter().map(|step| step.sends.len()).sum()
    }
}

/// Follows every case to its end; the looks at each by its label, and the living young by the
/// order of their hatching.
fn watch_cases(seed: u64, house: &House, diary: &mut Diary) -> (Looks, Vec<Hatchling>) {
    let laid = laying::collect(seed, house, diary);
    let received = received::receive(seed, house, diary);
    let (mut looks, mut young) = (Looks::new(), Vec::new());
    let mut watch = |case: &Case, arrived: bool, diary: &mut Diary| {
        let mut watch = Watch::new(seed, case, house, diary);
        if arrived {
            watch.look_on_arrival();
        }
        young.extend(watch.follow());
        looks.insert(case.label.clone(), watch.looks);
    };
    laid.iter().for_each(|case| watch(case, false, diary));
    received.iter().for_each(|case| watch(case, true, diary));
    young.sort_by(|a, b| (a.hatched, &a.label).cmp(&(b.hatched, &b.label)));
    (looks, young)
}

/// Follows every young; the one whose history is told is the first bamboo's.
///
/// # Panics
/// If the season has no such young, or no second young in the same water: the fates of both are
/// fixed, so that would be a fault of this program.
fn rear_young(seed: u64, house: &House, young: &[Hatchling], diary: &mut Diary) -> Story {
    let told = young.iter().position(|young| young.label.starts_with(TOLD_CASE)).expect("the told case hatches");
    let lots = rearing::lots(seed, young, &young[told].animal);
    let rows = young.iter().zip(lots).enumerate();
    let mut nurslings: Vec<Nursling<'_>> = rows.map(|(row, (young, lot))| Nursling::new(seed, young, row, lot, house)).collect();
    for nursling in &mut nurslings {
        nursling.follow(diary);
    }
    let neighbour = nurslings.iter().position(|other| {
        let later = other.young.hatched > young[told].hatched;
        later && other.young.stock == young[told].stock && other.lot == rearing::Lot::Lives
    });
    let neighbour = neighbour.expect("a second bamboo lives");
    mishaps::young_not_found(&nurslings, &young[told].animal, house, diary);
    putting_right::fed_after_death(&nurslings, diary);
    putting_right::the_story(&nurslings[told], nurslings[neighbour].young, diary)
}

/// A named stream of chance under a seed, for whoever plays a season.
#[must_use]
pub fn stream(seed: u64, name: &str) -> Chance {
    Chance::new(seed, name)
}
