//! From the cells of a table to a row.

use selachron_statistics::pedigree::cells::{Cells, read};
use selachron_statistics::pedigree::{Born, Mode, Parent, Row, Sex};

use super::candidates;

#[track_caller]
fn row(cells: Cells<'_>) -> Row {
    read(1, &cells).unwrap_or_else(|refusal| panic!("{refusal}"))
}

fn x() -> Cells<'static> {
    Cells { id: "x", ..Cells::default() }
}

#[test]
fn five_states_of_a_parent() {
    let sire = |cells| row(cells).sire;
    assert_eq!(sire(Cells { sire: "S", ..x() }), Parent::known("S"));
    assert_eq!(sire(x()), Parent::Unknown);
    assert_eq!(sire(Cells { sire: "unknown", ..x() }), Parent::Unknown);
    assert_eq!(sire(Cells { sire: "wild_caught", ..x() }), Parent::WildCaught);
    assert_eq!(sire(Cells { sire: "none", ..x() }), Parent::None);
    let listed = candidates(&[("S:1", 0.5), ("T", 0.5)]);
    assert_eq!(sire(Cells { sire_candidates: "S:1:0.5; T:0.5", ..x() }), listed);
    assert_eq!(sire(Cells { sire: "candidates", sire_candidates: "S:1:0.5;T:0.5", ..x() }), listed);
    assert_eq!(sire(Cells { mode: "automixis", ..x() }), Parent::None);
}

#[test]
fn modes_and_their_rho() {
    let mode = |mode: &'static str, rho: &'static str, sire: &'static str| row(Cells { mode, rho, sire, ..x() }).mode;
    assert_eq!(mode("", "", ""), Mode::Sexual);
    assert_eq!(mode("", "", "none"), Mode::Automixis { rho: 1.0 });
    assert_eq!(mode("automixis", "", ""), Mode::Automixis { rho: 1.0 });
    assert_eq!(mode("automixis", "0.25", ""), Mode::Automixis { rho: 0.25 });
    assert_eq!((mode("selfing", "0.5", ""), mode("clone", "0", "")), (Mode::Selfing, Mode::Clone));
}

#[test]
fn births_sexes_and_the_living() {
    let born = |born: &'static str| row(Cells { born, ..x() }).born;
    assert_eq!(born("1970-01-01"), Some(Born::Date(0)));
    assert_eq!(born("2000-03-01"), Some(Born::Date(11_017)));
    assert_eq!(born("2024-02-29"), Some(Born::Date(19_782)));
    assert_eq!((born("2019"), born("")), (Some(Born::Number(2019.0)), None));
    assert_eq!(row(Cells { sex: "female", ..x() }).sex, Some(Sex::Female));
    assert!(row(x()).living && !row(Cells { living: "0", ..x() }).living);
    assert_eq!(row(Cells { clutch: "C7", ..x() }).clutch.as_deref(), Some("C7"));
}

#[test]
fn what_cannot_be_read() {
    let cases = [
        (Cells { sex: "hen", ..x() }, "row 4: sex is \"hen\"; give female, male, unknown, or nothing"),
        (Cells { living: "yes", ..x() }, "row 4: living is \"yes\"; give 1, 0, or nothing for 1"),
        (Cells { born: "2023-02-29", ..x() }, "row 4: born is \"2023-02-29\"; give a date such as 2025-11-03, a number, or nothing"),
        (Cells { born: "inf", ..x() }, "row 4: born is \"inf\"; give a date such as 2025-11-03, a number, or nothing"),
        (Cells { mode: "budding", ..x() }, "row 4: mode is \"budding\"; give sexual, selfing, automixis, clone, or nothing"),
        (Cells { mode: "automixis", rho: "most", ..x() }, "row 4: rho is \"most\"; give a number from 0 to 1, or nothing"),
        (Cells { mode: "automixis", rho: "2", ..x() }, "row 4 (x): rho is 2; give a number from 0 to 1"),
        (Cells { rho: "1", ..x() }, "row 4: rho is \"1\"; only automixis takes a rho of its own; leave it out"),
        (
            Cells { sire: "S", sire_candidates: "S:1", ..x() },
            "row 4: sire_candidates is \"S:1\"; the sire is given as well; leave out one of the two",
        ),
        (Cells { sire: "candidates", ..x() }, "row 4: sire_candidates is \"\"; list them as ID:WEIGHT;ID:WEIGHT"),
        (
            Cells { sire_candidates: "S", ..x() },
            "row 4: sire_candidates is \"S\"; list them as ID:WEIGHT;ID:WEIGHT, with weights that sum to 1",
        ),
        (
            Cells { dam: "candidates", ..x() },
            "row 4: dam is \"candidates\"; a table lists candidates for the sire only; name the dam, or say unknown",
        ),
        (Cells { id: "none", ..x() }, "row 4: id is \"none\"; this word says what is known of a parent; name the animal otherwise"),
    ];
    for (cells, sentence) in cases {
        assert_eq!(read(4, &cells).expect_err("odd").to_string(), sentence);
    }
}
