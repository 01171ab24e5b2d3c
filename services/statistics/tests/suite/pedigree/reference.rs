//! Against exact rational arithmetic (`pedigree.expected.json`, `uniparental.expected.json`).

use selachron_statistics::pedigree::cells::{self, Cells};
use selachron_statistics::pedigree::retention::Drops;
use selachron_statistics::pedigree::{Row, Wanted, figures};
use serde_json::Value;

use super::pedigree;
use crate::support::{assert_near, json, numbers, reference};

/// Each case, its rows, and what is expected.
fn cases(file: &Value, tables: &[(&str, &str)]) -> Vec<(String, Vec<Row>, Value, f64)> {
    let tolerance = file["tolerance"].as_f64().expect("a tolerance");
    let expected = file["cases"].as_object().expect("cases");
    assert_eq!(expected.len(), tables.len(), "every case has its table here");
    let case = |(name, expected): (&String, &Value)| {
        let (_, table) = tables.iter().find(|(known, _)| known == name).expect("a table of that name");
        let living = expected["living"].as_array().expect("the living");
        let mut rows = read(table);
        rows.iter_mut().for_each(|row| row.living = living.iter().any(|id| id == row.id.as_str()));
        (name.clone(), rows, expected.clone(), tolerance)
    };
    expected.iter().map(case).collect()
}

fn read(table: &str) -> Vec<Row> {
    let mut lines = table.lines();
    assert_eq!(lines.next(), Some("id,sire,dam,mode,rho,sire_candidates"));
    let row = |(index, line): (usize, &str)| {
        let found: Vec<&str> = line.split(',').collect();
        let [id, sire, dam, mode, rho, sire_candidates] = found[..] else { panic!("six cells: {line}") };
        let cells = Cells { id, sire, dam, mode, rho, sire_candidates, ..Cells::default() };
        cells::read(index + 1, &cells).expect("a sound row")
    };
    lines.enumerate().map(row).collect()
}

fn all() -> Vec<(String, Vec<Row>, Value, f64)> {
    let mut all = cases(
        &json(reference!("pedigree.expected.json")),
        &[
            ("fullsib_lines", reference!("pedigree_fullsib_lines.csv")),
            ("henderson_mrode", reference!("pedigree_henderson_mrode.csv")),
            ("halfsib", reference!("pedigree_halfsib.csv")),
            ("first_cousins", reference!("pedigree_first_cousins.csv")),
            ("double_first_cousins", reference!("pedigree_double_first_cousins.csv")),
            ("parent_offspring", reference!("pedigree_parent_offspring.csv")),
            ("unequal_founders", reference!("pedigree_unequal_founders.csv")),
            ("bottleneck", reference!("pedigree_bottleneck.csv")),
        ],
    );
    all.extend(cases(
        &json(reference!("uniparental.expected.json")),
        &[
            ("selfing", reference!("uniparental_selfing.csv")),
            ("automixis_terminal_nocross", reference!("uniparental_automixis_terminal_nocross.csv")),
            ("automixis_rho_two_thirds", reference!("uniparental_automixis_rho_two_thirds.csv")),
            ("clone", reference!("uniparental_clone.csv")),
            ("uncertain_sire", reference!("uniparental_uncertain_sire.csv")),
        ],
    ));
    all
}

#[test]
fn inbreeding_and_kinship_are_the_exact_ones() {
    for (name, rows, expected, within) in all() {
        let found = pedigree(&rows);
        let table = found.kinship_table().expect("a small one");
        for (index, id) in found.ids().iter().enumerate() {
            assert_eq!(expected["order"][index], id.as_str(), "{name}");
            assert_near(found.inbreeding()[index], expected["F"][id].as_f64().expect("F"), within);
            let wanted = numbers(&expected["kinship_matrix"][index]);
            let one_to_all = found.kinship_of(index).expect("an animal");
            assert_eq!(wanted.len(), one_to_all.len(), "{name}");
            for (other, wanted) in wanted.into_iter().enumerate() {
                assert_near(table.of(index, other), wanted, within);
                assert_near(one_to_all[other], wanted, within);
            }
        }
    }
}

#[test]
fn the_printed_figures_are_the_exact_ones() {
    for (name, rows, expected, within) in all() {
        let found = figures(&rows, Wanted { kinship: true, ..Wanted::default() }).expect("a sound table");
        let said = serde_json::to_value(&found).expect("JSON");
        let means = expected["mean_kinship_incl_self"].as_object().expect("means");
        assert_eq!(said["mean_kinship"].as_object().expect("means").len(), means.len(), "{name}");
        means
            .iter()
            .for_each(|(id, mean)| assert_near(said["mean_kinship"][id].as_f64().expect("one"), mean.as_f64().expect("one"), within));
        for (ours, theirs) in
            [("mean_kinship", "population_mean_kinship"), ("gene_diversity", "gene_diversity"), ("fge_from_mean_kinship", "fge_from_mk")]
        {
            assert_near(said["summary"][ours].as_f64().expect("one"), expected[theirs].as_f64().expect("one"), within);
        }
        assert_eq!(said["summary"]["living"], means.len(), "{name}");
        assert_near(said["kinship"][0][0].as_f64().expect("one"), expected["kinship_matrix"][0][0].as_f64().expect("one"), within);
    }
}

#[test]
fn founders_and_ancestors_are_the_exact_ones() {
    let mut checked = 0;
    for (name, rows, expected, within) in all() {
        let Some(founders) = expected["boichard"]["founders"].as_object() else { continue };
        checked += 1;
        let (found, wanted) = (pedigree(&rows), &expected["boichard"]);
        let given = found.founders().expect("some live");
        assert_eq!(given.len(), founders.len(), "{name}");
        given.iter().for_each(|founder| assert_near(founder.contribution, founders[&founder.id].as_f64().expect("one"), within));
        assert_near(found.effective_founders().expect("some live"), wanted["f_e"].as_f64().expect("one"), within);
        let ancestry = found.effective_ancestors().expect("some live");
        assert_near(ancestry.effective, wanted["f_a"].as_f64().expect("one"), within);
        let wanted = wanted["ancestors"].as_array().expect("a list");
        assert_eq!(ancestry.ancestors.len(), wanted.len(), "{name}");
        // The reference breaks ties of one generation by its own row order: compared as a set.
        for wanted in wanted {
            let ours = ancestry.ancestors.iter().find(|ours| wanted["id"] == ours.id.as_str()).expect("the same ancestor");
            assert_near(ours.marginal, wanted["marginal"].as_f64().expect("one"), within);
        }
    }
    assert_eq!(checked, 9, "all cases with founders");
}

#[test]
fn retention_is_the_exact_one() {
    let mut checked = 0;
    for (name, rows, expected, within) in all() {
        let Some(retention) = expected["gene_drop_exact"]["retention"].as_object() else { continue };
        checked += 1;
        let (found, wanted) = (pedigree(&rows), &expected["gene_drop_exact"]);
        let exact = found.retention_exact().expect("some live").expect("a small one");
        assert_eq!(exact.founders.len(), retention.len(), "{name}");
        exact.founders.iter().for_each(|f| assert_near(f.retained, retention[&f.id].as_f64().expect("one"), within));
        assert_near(exact.founder_genomes_surviving, wanted["founder_genomes_surviving"].as_f64().expect("one"), within);
        assert_near(exact.founder_genome_equivalents, wanted["fge_lacy1989_retention_formula"].as_f64().expect("one"), within);
        let dropped = found.retention_by_gene_drop(Drops { count: 20_000, seed: 20_261_125 }).expect("drops");
        for (dropped, exact) in dropped.founders.iter().zip(&exact.founders) {
            assert_near(dropped.retained, exact.retained, 4.0 * dropped.se_retained);
        }
        let apart = 4.0 * dropped.se_founder_genome_equivalents;
        assert_near(dropped.founder_genome_equivalents, exact.founder_genome_equivalents, apart);
    }
    assert_eq!(checked, 9, "all cases with gene drops");
}
