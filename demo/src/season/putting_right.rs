//! What goes wrong with the notes themselves, as it does everywhere, and how it is put right:
//! a wrong band, a wrong mass corrected twice, a note taken back, counts that never come, a lost
//! tablet, a trainee's notes, and a report that somebody stands for.

use super::calendar::{REPORT_YEAR, TABLET_LOST, TABLET_REVOKED, after_minutes, at, date_of, plus_days, text};
use super::diary::Diary;
use super::endings::Hatchling;
use super::house::{House, Tank, Water};
use super::note::{About, Handle, Known, Planned, ReportPart, Sending};
use super::people::{Signer, on_duty};
use super::rearing::{Lot, Nursling};
use super::stock::Stock;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};

/// The one history that is told at length: an animal one of whose notes is put right twice.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// The animal.
    pub animal: Subject,
    /// Its label.
    pub label: String,
    /// The label of its case.
    pub case_label: String,
    /// The measuring with the wrong mass.
    pub measured: Handle,
    /// Its correction, itself wrong.
    pub corrected: Handle,
    /// The correction of that.
    pub corrected_again: Handle,
    /// The feeding that was another animal's.
    pub taken_back: Handle,
    /// An evening on which only the wrong mass was known.
    pub then: Instant,
}

/// A look at a case whose band was mistapped is put right the next day by the same keeper.
pub fn wrong_band(looks: &[(Handle, Option<u8>)], diary: &mut Diary) {
    let Some((handle, _)) = looks.iter().find(|(_, band)| *band == Some(4)) else { return };
    let right = diary.note(*handle).data.clone();
    let wrong = diary.note_mut(*handle);
    wrong.data.insert("band".to_owned(), json!(7));
    let time = at(plus_days(date_of(wrong.time), 1), 16, 20);
    let target = wrong.clone();
    diary.add(act("record.corrected.v1", &target, target.author, time).data(json!({
        "reason": "tapped 7 for 4: gills were long, yolk large", "replacement": {"data": right}
    })));
}

/// A mass is typed wrong, corrected wrong, and corrected again; and a feeding was another's.
pub fn the_story(told: &Nursling<'_>, neighbour: &Hatchling, diary: &mut Diary) -> Story {
    let measured = told.measures[1];
    let right = diary.note(measured).data.clone();
    let mass_g = right["mass_g"].as_f64().unwrap_or(30.0);
    diary.note_mut(measured).data.insert("mass_g".to_owned(), json!(super::chance::rounded(mass_g * 10.0, 0)));
    let target = diary.note(measured).clone();
    let day = |days| plus_days(date_of(target.time), days);
    let mut halfway = right.clone();
    halfway.insert("mass_g".to_owned(), json!(super::chance::rounded(mass_g + 9.0, 1)));
    let first = act("record.corrected.v1", &target, target.author, at(day(2), 9, 40));
    let corrected = diary.add(first.data(json!({"reason": "the point was left out when typing", "replacement": {"data": halfway}})));
    let target_again = diary.note(corrected).clone();
    let second = act("record.corrected.v1", &target_again, Signer::Curator, at(day(6), 10, 15));
    let reason = "digits were turned round; read again from the photo of the balance";
    let corrected_again = diary.add(second.data(json!({"reason": reason, "replacement": {"data": right}})));
    let taken_back = anothers_feeding(told, neighbour, diary);
    let case_label = told.young.label.trim_end_matches(char::is_alphabetic).to_owned();
    let (animal, label) = (told.young.animal.clone(), told.young.label.clone());
    Story { animal, label, case_label, measured, corrected, corrected_again, taken_back, then: at(day(1), 12, 0) }
}

/// A feeding of the neighbour is written under this animal, taken back the next day, and
/// written where it belongs.
fn anothers_feeding(told: &Nursling<'_>, neighbour: &Hatchling, diary: &mut Diary) -> Handle {
    let after = told.feeds.iter().map(|handle| diary.note(*handle)).find(|fed| fed.time > neighbour.hatched.plus_ms(30 * 86_400_000));
    let after = after.unwrap_or_else(|| diary.note(told.feeds[0]));
    let date = plus_days(date_of(after.time), 1);
    let data = json!({"offered": [{"food": "chopped prawn", "pieces": 4}], "eaten": "all", "way": "tongs"});
    let time = at(date, 15, 12);
    let wrong = Planned::new("animal.fed.v1", &told.young.animal, on_duty(date), time).data(data.clone());
    let handle = diary.add(wrong);
    let target = diary.note(handle).clone();
    let next_morning = at(plus_days(date, 1), 9, 5);
    let back = act("record.retracted.v1", &target, target.author, next_morning);
    let reason = format!("it was {} that ate, not this one", neighbour.label);
    diary.add(back.data(json!({"reason": reason})));
    let right = Planned::new("animal.fed.v1", &neighbour.animal, target.author, time).data(data);
    diary.add(right.late(18 * 60, "written under another animal first").sent(Sending::AtOnce));
    handle
}

/// An act on a planned note.
fn act(kind: &'static str, target: &Planned, who: Signer, time: Instant) -> Planned {
    Planned::about(kind, target.about.clone(), who, time).gap("target", Known::IdOf(target.handle)).decided()
}

/// A dead animal stands in the afternoon's feeding round: recorded, and asked about. The curator
/// settles it the next morning.
pub fn fed_after_death(young: &[Nursling<'_>], diary: &mut Diary) {
    let Some(dead) = young.iter().find(|young| matches!(young.lot, Lot::Dies(age, _) if age > 30)) else { return };
    let Some(died) = diary.notes().find(|note| note.kind == "animal.died.v1" && note.about == About::Subject(dead.young.animal.clone()))
    else {
        return;
    };
    let (time, died) = (at(date_of(died.time), 15, 5), died.handle);
    let data = json!({"offered": [{"food": "squid strips", "pieces": 3}], "eaten": "not seen", "way": "scattered"});
    let fed = diary.add(Planned::new("animal.fed.v1", &dead.young.animal, on_duty(date_of(time)), time).data(data));
    let next_morning = at(plus_days(date_of(time), 1), 9, 25);
    let word = Planned::new("discrepancy.explained.v1", &dead.young.animal, Signer::Curator, next_morning);
    let data = json!({"odd": "fed after death", "explanation": "was a slip", "remark": "ticked with the rest of the round"});
    diary.add(word.data(data).gap("events", Known::IdsOf([died, fed])));
}

/// A keeper endorses the trainee's notes on the day after; the last two are forgotten.
pub fn endorse_trainee(diary: &mut Diary) {
    let mut notes: Vec<(Instant, Handle)> =
        diary.notes().filter(|note| note.author == Signer::Trainee).map(|note| (note.time, note.handle)).collect();
    notes.sort_unstable();
    let last = notes.len().saturating_sub(2);
    for (row, (noted, handle)) in notes[..last].iter().enumerate() {
        let about = diary.note(*handle).about.clone();
        let time = super::diary::slot(plus_days(date_of(*noted), 1), 16, 40, row % 12, 40);
        let note = Planned::about("record.endorsed.v1", about, on_duty(date_of(time)), time);
        diary.add(note.gap("seq", Known::SeqOf(*handle)).gap("body_sha256", Known::BodyHashOf(*handle)));
    }
}

/// One count is used for a note that is lost and given up; another is never explained.
pub fn counts_that_never_come(house: &House, diary: &mut Diary) {
    let reading = json!({"temperature_c": 24.8, "instrument": "hand probe 2", "point": "warm trays"});
    let lost = |date, who| {
        let note = Planned::new("water.measured.v1", house.system(Water::Warm), who, at(date, 11, 20));
        note.data(reading.clone()).sent(Sending::Never)
    };
    let first = plus_days(super::calendar::FIRST_DAY, 134);
    let lost_note = diary.add(lost(first, on_duty(first)));
    let given_up = Planned::about("note.abandoned.v1", About::KeyOf(on_duty(first)), on_duty(first), at(plus_days(first, 1), 9, 10));
    let given_up = given_up.data(json!({"reason": "the tablet restarted while the note was being signed; the reading was not kept"}));
    diary.add(given_up.gap("keycount", Known::CountOf(lost_note)).sent(Sending::AtOnce));
    diary.add(lost(plus_days(super::calendar::FIRST_DAY, 417), Signer::KeeperTwoAgain));
}

/// Keeper two's tablet is lost with a note still on it, its key is used by nobody knows whom,
/// revoked, and the tablet turns up again.
pub fn lost_tablet(house: &House, diary: &mut Diary) {
    let (waiting, found_again) = (at(plus_days(TABLET_LOST, -3), 17, 20), at(plus_days(TABLET_LOST, 9), 11, 0));
    let data = json!({"temperature_c": 21.2, "instrument": "hand probe 2", "point": "return"});
    let kept = Planned::new("water.measured.v1", house.system(Water::Cool), Signer::KeeperTwo, waiting).data(data);
    diary.add(kept.approved_by(&[Signer::Registrar]).sent(Sending::Waits(found_again)));
    let strange =
        Planned::new("tank.searched.v1", house.tank(Tank::Adults(Stock::Skate)), Signer::KeeperTwo, at(plus_days(TABLET_LOST, 1), 19, 5));
    diary.add(strange.data(json!({"eggs_found": 0, "whole_tank": false})).sent(Sending::AtOnce));
    let revoked = Planned::about("key.revoked.v1", About::KeyOf(Signer::KeeperTwo), Signer::Registrar, at(TABLET_REVOKED, 11, 0));
    let data = json!({"reason": "tablet lost", "suspected_since": text(at(TABLET_LOST, 8, 0))});
    diary.add(revoked.data(data).sent(Sending::AtOnce));
    house.enrol_new_tablet(diary);
}

/// The curator stands for the annual report.
pub fn issue_report(diary: &mut Diary) {
    let Some(january) = chrono::NaiveDate::from_ymd_opt(REPORT_YEAR + 1, 1, 20) else { return };
    let note =
        Planned::about("report.issued.v1", About::Subject(Subject::collection()), Signer::Curator, after_minutes(at(january, 10, 0), 5));
    let parts = [
        ("query", ReportPart::Query),
        ("as_of", ReportPart::AsOf),
        ("known_at", ReportPart::KnownAt),
        ("root", ReportPart::Root),
        ("software", ReportPart::Software),
        ("tzdb", ReportPart::TimeZones),
        ("sha256", ReportPart::Sha256),
    ];
    let note = parts.into_iter().fold(note, |note, (member, part)| note.gap(member, Known::Report(part)));
    diary.add(note.sent(Sending::AtOnce).data(Value::Null));
}
