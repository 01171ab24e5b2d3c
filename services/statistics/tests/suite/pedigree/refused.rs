//! What is no pedigree, and the sentence that says so.

use selachron_statistics::pedigree::{Born, Mode, Parent, Pedigree, Row, Sex};

use super::{alone, candidates, founder, pedigree, row, rows};

#[track_caller]
fn refused(rows: &[Row], sentence: &str) {
    match Pedigree::new(rows) {
        Ok(_) => panic!("accepted; expected: {sentence}"),
        Err(refusal) => assert_eq!(refusal.to_string(), sentence),
    }
}

fn sexed(row: Row, sex: Sex) -> Row {
    Row { sex: Some(sex), ..row }
}

fn born(row: Row, day: i64) -> Row {
    Row { born: Some(Born::Date(day)), ..row }
}

#[test]
fn circles() {
    refused(&rows("a ? ?\nb d a\nc b a\nd c a"), "row 2 (b), row 4 (d), row 3 (c) descend in a circle; correct one of their parents");
    refused(&rows("a a ?"), "row 1 (a) descend in a circle; correct one of their parents");
    let mut table = rows("S ? ?\nD ? ?\ny x D");
    table.insert(2, Row::new("x", candidates(&[("S", 0.5), ("y", 0.5)]), Parent::known("D")));
    refused(&table, "row 3 (x), row 4 (y) descend in a circle; correct one of their parents");
}

#[test]
fn names() {
    refused(&rows("a ? ?\nb ? ?\na ? ?"), "row 1 (a) and row 3 (a) are the same animal; keep one row");
    refused(&[founder("a"), founder("")], "row 2: id is \"\"; give a name that is not empty and does not begin with \"?\"");
    refused(&[founder("?a")], "row 1: id is \"?a\"; give a name that is not empty and does not begin with \"?\"");
    refused(&rows("a ? b"), "row 1 (a): dam \"b\" has no row; add one, with unknown parents if need be, or say unknown");
}

#[test]
fn sexes() {
    let table = [sexed(founder("a"), Sex::Female), sexed(founder("b"), Sex::Male), row("x", "a", "b")];
    refused(&table, "row 3 (x): sire is row 1 (a), whose sex is female; correct the sex or the parent");
    let table = [sexed(founder("a"), Sex::Male), sexed(founder("b"), Sex::Male), row("x", "a", "b")];
    refused(&table, "row 3 (x): dam is row 2 (b), whose sex is male; correct the sex or the parent");
    let table = [sexed(founder("a"), Sex::Male), alone("x", "a", Mode::Clone)];
    refused(&table, "row 2 (x): dam is row 1 (a), whose sex is male; correct the sex or the parent");
    let list = candidates(&[("a", 0.5), ("b", 0.5)]);
    let table = [sexed(founder("a"), Sex::Male), sexed(founder("b"), Sex::Female), Row::new("x", list, Parent::Unknown)];
    refused(&table, "row 3 (x): sire is row 2 (b), whose sex is female; correct the sex or the parent");
    // Without recorded sexes it is only pointed out.
    assert_eq!(pedigree(&rows("a ? ?\nb ? ?\nx a b\ny b ?\nz y x")).sires_and_dams(), ["b"]);
}

#[test]
fn ages() {
    let table = [born(founder("a"), 20), founder("b"), born(row("x", "a", "b"), 20)];
    refused(&table, "row 3 (x) was not born after its ancestor row 1 (a); correct a date or a parent");
    // The mother's birth is not known; the grandmother's is enough.
    let table = [born(founder("a"), 20), row("b", "?", "a"), born(row("x", "?", "b"), 10)];
    refused(&table, "row 3 (x) was not born after its ancestor row 1 (a); correct a date or a parent");
    let list = candidates(&[("a", 0.5), ("b", 0.5)]);
    let table = [born(founder("a"), 0), born(founder("b"), 50), born(Row::new("x", list, Parent::Unknown), 40)];
    refused(&table, "row 3 (x) was not born after its ancestor row 2 (b); correct a date or a parent");
    let number = Row { born: Some(Born::Number(2019.0)), ..founder("b") };
    refused(&[born(founder("a"), 20), number], "born is a date in row 1 (a) and a number in row 2 (b); use one of the two for all");
    let odd = Row { born: Some(Born::Number(f64::NAN)), ..founder("b") };
    refused(&[odd], "row 1 (b): born is NaN; give a date such as 2025-11-03, or a number");
}

#[test]
fn weights() {
    let with = |list: &[(&str, f64)]| [founder("a"), founder("b"), Row::new("x", candidates(list), Parent::Unknown)];
    let sentence =
        |sum: &str| format!("row 3 (x): the weights of the candidates for sire sum to {sum}; each must be above 0, and their sum 1");
    refused(&with(&[("a", 0.5), ("b", 0.25)]), &sentence("0.75"));
    refused(&with(&[("a", 1.5), ("b", -0.5)]), &sentence("1"));
    refused(&with(&[("a", f64::NAN), ("b", 0.5)]), &sentence("NaN"));
    refused(&with(&[]), &sentence("-0"));
    refused(&with(&[("a", 0.5), ("a", 0.5)]), "row 3 (x): \"a\" is listed twice among the candidates for sire; add up its weights");
    refused(&with(&[("a", 0.5), ("c", 0.5)]), "row 3 (x): sire \"c\" has no row; add one, with unknown parents if need be, or say unknown");
    pedigree(&with(&[("a", 0.333_333), ("b", 0.666_666)]));
}

#[test]
fn clutches() {
    let egg = |id: &str, clutch: &str, list: &[(&str, f64)]| Row {
        clutch: Some(clutch.to_owned()),
        ..Row::new(id, candidates(list), Parent::Unknown)
    };
    let (even, odd) = ([("a", 0.5), ("b", 0.5)], [("b", 0.75), ("a", 0.25)]);
    refused(
        &[founder("a"), founder("b"), egg("x", "C", &even), egg("y", "C", &odd)],
        "row 3 (x) and row 4 (y) share clutch \"C\" but not the candidates for sire; give both the same list, or two clutches",
    );
    pedigree(&[founder("a"), founder("b"), egg("x", "C", &even), egg("y", "D", &odd)]);
    // The order of a list says nothing.
    let turned = [("b", 0.5), ("a", 0.5)];
    pedigree(&[founder("a"), founder("b"), egg("x", "C", &even), egg("y", "C", &turned)]);
}

#[test]
fn modes() {
    refused(&rows("a ? ?\nx a a"), "row 2 (x): \"a\" is both sire and dam; correct one, or give mode selfing");
    let list = candidates(&[("a", 0.5), ("b", 0.5)]);
    refused(
        &[founder("a"), founder("b"), Row::new("x", list, Parent::known("b"))],
        "row 3 (x): \"b\" is both sire and dam; correct one, or give mode selfing",
    );
    refused(
        &[founder("a"), Row::new("x", Parent::None, Parent::known("a"))],
        "row 2 (x): mode sexual with sire none; say unknown if there was one, or give mode automixis or clone",
    );
    refused(
        &[Row::new("x", Parent::Unknown, Parent::None)],
        "row 1 (x): mode sexual with dam none; every animal has a dam; name her, or say unknown",
    );
    refused(
        &[founder("a"), Row { mode: Mode::Clone, ..Row::new("x", Parent::Unknown, Parent::known("a")) }],
        "row 2 (x): mode clone with sire given; there is none in this mode; say none, or give mode sexual",
    );
    refused(
        &[founder("a"), founder("b"), Row { mode: Mode::Selfing, ..row("x", "b", "a") }],
        "row 3 (x): mode selfing with sire another than the dam; repeat the dam, or say none",
    );
    for rho in [-0.1, 1.1, f64::NAN] {
        let sentence = format!("row 2 (x): rho is {rho}; give a number from 0 to 1");
        refused(&[founder("a"), alone("x", "a", Mode::Automixis { rho })], &sentence);
    }
}

#[test]
fn tables_that_are_too_large() {
    let many: Vec<Row> = (0..1001).map(|i| founder(&format!("a{i}"))).collect();
    let found = pedigree(&many);
    let all: Vec<usize> = (0..many.len()).collect();
    // Ten thousand and one founders without young need no table, but their lines are too many.
    let founders: Vec<Row> = (0..10_001).map(|i| founder(&format!("a{i}"))).collect();
    let more = pedigree(&founders);
    let refusal = more.kinship_table().expect("no parents").lines().expect_err("too many");
    assert_eq!(refusal.to_string(), "kinship of 10001 animals is larger than the 10000 of one table; ask for fewer");
    let refusal = found.kinship_among(&all).expect_err("too many");
    assert_eq!(refusal.to_string(), "kinship of 1001 animals is larger than the 1000 of one table; ask for fewer");
    assert_eq!(found.kinship_of(1001).expect_err("past the end").to_string(), "there is no animal \"number 1001\"; name one of the table");
}
