//! Textbook values, worked by hand.

use selachron_statistics::Reason;
use selachron_statistics::pedigree::effective_size::{from_rate, from_sexes, heterozygosity_kept, over_generations};
use selachron_statistics::pedigree::retention::{Drops, Method};
use selachron_statistics::pedigree::{Mode, Parent, Row, Sex, Wanted, figures};

use super::{alone, candidates, dead, founder, inbreeding, kinship, pedigree, row, rows};
use crate::support::assert_near;

const CLOSE: f64 = 1e-14;

/// Lacy 1989 (Zoo Biol 8:111): A, B and E founders, two matings, four alive.
fn lacy() -> Vec<Row> {
    let mut table = rows("A ? ? \n B ? ? \n E ? ? \n C A B \n D A B \n F D E \n G D E");
    table[..3].iter_mut().for_each(|founder| founder.living = false);
    table
}

/// Wright 1922; Falconer & Mackay: the young of kin.
#[test]
fn young_of_kin() {
    let kin = |text: &str| inbreeding(&pedigree(&rows(text)), "x");
    assert_eq!(kin("S ? ?\nD ? ?\nE ? ?\na S D\nb S E\nx a b"), 1.0 / 8.0, "half sibs");
    assert_eq!(kin("S ? ?\nD ? ?\na S D\nb S D\nx a b"), 1.0 / 4.0, "full sibs");
    assert_eq!(kin("S ? ?\nD ? ?\na S D\nx a D"), 1.0 / 4.0, "offspring and dam");
    assert_eq!(kin("S ? ?\nD ? ?\nE ? ?\na S D\nb S D\nc b E\nx a c"), 1.0 / 8.0, "uncle and niece");
}

/// `F_t = (1 + 2 F_(t-1) + F_(t-2))/4` under full-sib mating (Falconer & Mackay, table 5.1).
#[test]
fn repeated_full_sib_mating() {
    let mut table = rows("a0 ? ?\nb0 ? ?");
    for t in 1..=10 {
        let [sire, dam] = [format!("a{}", t - 1), format!("b{}", t - 1)];
        table.push(row(&format!("a{t}"), &sire, &dam));
        table.push(row(&format!("b{t}"), &sire, &dam));
    }
    let found = pedigree(&table);
    let wanted = [0.0, 0.25, 0.375, 0.5, 19.0 / 32.0, 43.0 / 64.0, 47.0 / 64.0, 201.0 / 256.0, 423.0 / 512.0, 55.0 / 64.0];
    for (t, wanted) in wanted.into_iter().enumerate() {
        assert_eq!(inbreeding(&found, &format!("a{}", t + 1)), wanted, "generation {}", t + 1);
    }
}

/// Selfing: 0, 1/2, 3/4, 7/8. The sire may be repeated or said to be none.
#[test]
fn selfing() {
    let mut table = vec![founder("a")];
    table.push(Row { mode: Mode::Selfing, ..row("b", "a", "a") });
    table.push(alone("c", "b", Mode::Selfing));
    table.push(alone("d", "c", Mode::Selfing));
    assert_eq!(pedigree(&table).inbreeding(), [0.0, 0.5, 0.75, 0.875]);
}

/// A help page's pedigree of seven with 0 for unknown: F = 0, 0, 0, 0, 1/8, 1/4, 9/32.
#[test]
fn seven_animals() {
    let found = pedigree(&rows("1 ? ?\n2 ? ?\n3 1 ?\n4 1 2\n5 3 4\n6 1 4\n7 5 6"));
    assert_eq!(found.inbreeding(), [0.0, 0.0, 0.0, 0.0, 1.0 / 8.0, 1.0 / 4.0, 9.0 / 32.0]);
}

/// Lacy 1989 prints f_e = 2.91 and f_g = 2.18; the rest follows by hand.
#[test]
fn lacy_1989() {
    let found = pedigree(&lacy());
    let shares: Vec<f64> = found.founders().expect("some live").iter().map(|f| f.contribution).collect();
    assert_eq!(shares, [3.0 / 8.0, 3.0 / 8.0, 1.0 / 4.0]);
    assert_near(found.effective_founders().expect("one"), 32.0 / 11.0, CLOSE);
    let retention = found.retention(Drops::default()).expect("one");
    assert_eq!(retention.method, Method::Exact);
    assert!(retention.founders.iter().all(|f| f.retained == 0.75), "{retention:?}");
    assert_near(retention.founder_genome_equivalents, 24.0 / 11.0, CLOSE);
    let means = found.mean_kinship().expect("some live");
    assert_eq!(means[3..], [1.0 / 4.0, 5.0 / 16.0, 9.0 / 32.0, 9.0 / 32.0]);
    assert_eq!(found.population_mean_kinship(), Ok(9.0 / 32.0));
    let ancestry = found.effective_ancestors().expect("some live");
    assert_near(ancestry.effective, 8.0 / 3.0, CLOSE);
    assert_eq!(ancestry.ancestors.iter().map(|a| a.marginal).collect::<Vec<_>>(), [0.5, 0.25, 0.25]);
    assert!(ancestry.generations_mixed, "D lives, and so do its young");
}

/// One number for gene diversity, another for retention: 16/9 against 24/11.
#[test]
fn the_two_founder_genome_equivalents_differ() {
    let summary = figures(&lacy(), Wanted::default()).expect("a sound table").summary;
    assert_near(summary.fge_from_mean_kinship.expect("one"), 16.0 / 9.0, CLOSE);
    assert_near(summary.fge_by_retention.expect("one"), 24.0 / 11.0, CLOSE);
    assert_eq!(summary.gene_diversity, Some(23.0 / 32.0));
    assert_eq!((summary.n, summary.living, summary.known_fraction), (7, 4, Some(1.0)));
}

/// Two young of one outbred dam alone, wholly homozygous; and one of a later pairing.
#[test]
fn parthenotes() {
    let whole = Mode::Automixis { rho: 1.0 };
    let mut table = vec![founder("D"), founder("M"), alone("P", "D", whole), alone("Q", "D", whole)];
    table.extend([row("s", "M", "D"), row("x", "M", "P")]);
    let found = pedigree(&table);
    assert_eq!((inbreeding(&found, "P"), kinship(&found, "P", "P")), (1.0, 1.0));
    assert_eq!((kinship(&found, "P", "D"), kinship(&found, "P", "Q")), (0.5, 0.5));
    assert_eq!((kinship(&found, "P", "s"), inbreeding(&found, "x")), (0.25, 0.0));
    // A dam alone is one founder, not one and an unknown sire.
    assert_eq!(found.founders().expect("some live").len(), 2);
}

/// `none` and `unknown` are not the same: the second invents a founder.
#[test]
fn no_sire_is_not_an_unknown_sire() {
    let whole = Mode::Automixis { rho: 1.0 };
    let without = pedigree(&[dead(founder("D")), alone("P", "D", whole)]);
    let unknown = pedigree(&[dead(founder("D")), row("P", "?", "D")]);
    assert_eq!(without.effective_founders(), Ok(1.0));
    assert_eq!(unknown.effective_founders(), Ok(2.0));
    assert_eq!(unknown.founders().expect("some live")[1].id, "?P");
    assert_eq!((without.known_fraction(), unknown.known_fraction()), (Ok(1.0), Ok(0.5)));
}

/// A dam alone whom nobody knows: she is the founder, and at most one of her alleles is left.
#[test]
fn parthenote_of_an_unknown_dam() {
    let found = pedigree(&[Row { mode: Mode::Automixis { rho: 1.0 }, ..Row::new("P", Parent::None, Parent::Unknown) }]);
    let retention = found.retention(Drops::default()).expect("one");
    assert_eq!((retention.founders[0].id.as_str(), retention.founders[0].retained), ("?P", 0.5));
    assert_eq!((retention.founder_genome_equivalents, found.population_mean_kinship()), (0.5, Ok(1.0)));
}

/// Sire S1 or S2, one half each: 1/8 with each, 3/16 between two such young, 1/4 if of one clutch.
#[test]
fn a_sire_in_doubt() {
    let doubtful = |id: &str, clutch: Option<&str>| Row {
        clutch: clutch.map(str::to_owned),
        ..Row::new(id, candidates(&[("S1", 0.5), ("S2", 0.5)]), Parent::known("D"))
    };
    let with = |clutch| pedigree(&[founder("S1"), founder("S2"), founder("D"), doubtful("x", clutch), doubtful("y", clutch)]);
    assert_eq!(kinship(&with(None), "x", "S1"), 1.0 / 8.0);
    assert_eq!(kinship(&with(None), "x", "y"), 3.0 / 16.0);
    assert_eq!(kinship(&with(Some("C")), "x", "y"), 1.0 / 4.0);
    assert_eq!(kinship(&with(Some("C")), "x", "x"), 1.0 / 2.0);
    // Dams 1/2 of each, sires 1/4: the sire's half is split.
    let shares: Vec<f64> = with(None).founders().expect("some").iter().map(|f| f.contribution).collect();
    assert_eq!(shares, [(1.0 + 0.5) / 5.0, (1.0 + 0.5) / 5.0, (1.0 + 1.0) / 5.0]);
}

/// The candidates are full sibs, and the dam is the sister of one litter: F = kinship of sibs.
#[test]
fn candidates_who_are_kin_of_the_dam() {
    let mut table = rows("A ? ?\nB ? ?\nS A B\nT A B\nD A B\nU ? ?");
    table.push(Row::new("x", candidates(&[("S", 0.25), ("T", 0.25), ("U", 0.5)]), Parent::known("D")));
    // 1/4 with S, 1/4 with T, 0 with U.
    assert_near(inbreeding(&pedigree(&table), "x"), 0.125, CLOSE);
}

/// Ties: the founder before its young of equal share, so 8/3 and not 2.
#[test]
fn ties_go_to_the_oldest() {
    let table = rows("S ? ?\nC ? ?\nD ? ?\nx S C\ny S D\nz x y");
    let table: Vec<Row> = table.into_iter().enumerate().map(|(i, r)| if i < 3 { dead(r) } else { r }).collect();
    let ancestry = pedigree(&table).effective_ancestors().expect("some live");
    assert_eq!(ancestry.ancestors.iter().map(|a| a.id.as_str()).collect::<Vec<_>>(), ["S", "C", "D"]);
    assert_near(ancestry.effective, 8.0 / 3.0, CLOSE);
}

/// Numbers of males and females, sizes of generations, heterozygosity left.
#[test]
fn effective_sizes() {
    assert_eq!(from_sexes(1, 15), Ok(3.75));
    assert_near(from_sexes(1, 100).expect("one"), 400.0 / 101.0, CLOSE);
    assert_eq!(from_sexes(5, 20), Ok(16.0));
    assert_eq!(from_sexes(0, 20), Err(Reason::NoData));
    assert_near(over_generations(&[100.0, 10.0, 100.0]).expect("one"), 25.0, 1e-12);
    assert_eq!(over_generations(&[100.0, 0.0]), Err(Reason::NoData));
    assert_near(heterozygosity_kept(10.0, 10.0).expect("one"), 0.598_737, 5e-7);
    assert_near(heterozygosity_kept(50.0, 20.0).expect("one"), 0.817_907, 5e-7);
    assert_eq!((from_rate(0.01), from_rate(0.0)), (Ok(50.0), Err(Reason::InbreedingNotRising)));
}

/// Full-sib mating: each generation is one more, and `1 - F` after the young of sibs is 3/4, so
/// dF = 1/4 at t = 2 and Ne = 2.
#[test]
fn realized_size() {
    let table = rows("A ? ?\nB ? ?\na A B\nb A B\nx a b");
    let table: Vec<Row> = table.into_iter().map(|r| if r.id == "x" { r } else { dead(r) }).collect();
    let found = pedigree(&table);
    assert_eq!(found.equivalent_generations(), [0.0, 0.0, 1.0, 1.0, 2.0]);
    let size = found.realized_size().expect("deep enough");
    assert_eq!((size.effective_size, size.animals, size.mean_generations), (2.0, 1, 2.0));
    let shallow = pedigree(&rows("A ? ?\nB ? ?\na A B"));
    assert_eq!(shallow.realized_size(), Err(Reason::PedigreeTooShallow));
    let outbred = pedigree(&rows("A ? ?\nB ? ?\nC ? ?\nD ? ?\na A B\nb C D\nx a b"));
    assert_eq!(outbred.realized_size(), Err(Reason::InbreedingNotRising));
}

/// The kinship of a pair is the F of its young; unsexed animals are left out and said to be.
#[test]
fn pairing_table() {
    let mut table = rows("A ? ?\nB ? ?\na A B\nb A B\nu A B");
    let sexes = [Some(Sex::Male), Some(Sex::Female), Some(Sex::Male), Some(Sex::Female), None];
    table.iter_mut().zip(sexes).for_each(|(row, sex)| row.sex = sex);
    let found = figures(&table, Wanted { pairs: true, ..Wanted::default() }).expect("a sound table");
    let pairs = found.pairs.expect("wanted");
    let told: Vec<(&str, &str, f64)> = pairs.iter().map(|p| (p.sire.as_str(), p.dam.as_str(), p.kinship)).collect();
    assert_eq!(told, [("A", "B", 0.0), ("A", "b", 0.25), ("a", "B", 0.25), ("a", "b", 0.25)]);
    assert_near(pairs[0].offspring_mean_kinship, (pairs[0].sire_mean_kinship + pairs[0].dam_mean_kinship) / 2.0, CLOSE);
    assert!(found.notes.iter().any(|note| note.starts_with("pairs: 1 living")), "{:?}", found.notes);
    let among = pedigree(&table).kinship_among(&[2, 0]).expect("two of them");
    assert_eq!(among, [[0.5, 0.25], [0.25, 0.5]]);
}

/// Nobody lives: no number, one sentence, and F all the same.
#[test]
fn nobody_lives() {
    let table: Vec<Row> = rows("A ? ?\nB ? ?\na A B").into_iter().map(dead).collect();
    let found = figures(&table, Wanted::default()).expect("a sound table");
    let said = serde_json::to_value(&found).expect("JSON");
    assert!(said["summary"]["mean_kinship"].is_null() && said["summary"]["fge_by_retention"].is_null());
    assert_eq!(said["F"]["a"], 0.0);
    assert!(said["notes"][0].as_str().expect("text").contains("no animal of the pedigree is living"));
    assert_eq!(pedigree(&[]).mean_kinship(), Err(Reason::NoneLiving));
}

/// Wild-caught parents make founders as unknown ones do, and are told apart.
#[test]
fn wild_caught() {
    let mut table = vec![Row::new("W", Parent::WildCaught, Parent::WildCaught), founder("U"), row("x", "W", "U")];
    table[..2].iter_mut().for_each(|row| row.living = false);
    let found = pedigree(&table);
    assert_eq!((found.known_fraction(), found.wild_fraction()), (Ok(1.0), Ok(0.5)));
}
