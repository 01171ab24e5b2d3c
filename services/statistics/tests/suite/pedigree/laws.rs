//! Laws that hold for every pedigree.

use proptest::collection::vec;
use proptest::prelude::*;
use selachron_statistics::pedigree::retention::Drops;
use selachron_statistics::pedigree::{Mode, Parent, Pedigree, Row};

use super::second;
use super::{candidates, pedigree};

const CLOSE: f64 = 1e-12;
/// Founders that every pedigree begins with.
const FOUNDERS: usize = 4;

/// Choices for one animal; what they mean depends on who came before.
#[derive(Clone, Debug)]
struct Draw {
    kind: u8,
    one: prop::sample::Index,
    other: prop::sample::Index,
    third: prop::sample::Index,
    rho: u8,
    clutch: u8,
    living: bool,
}

fn draw(kinds: std::ops::Range<u8>) -> impl Strategy<Value = Draw> {
    let index = any::<prop::sample::Index>;
    (kinds, index(), index(), index(), 0..4u8, 0..3u8, prop::bool::weighted(0.7))
        .prop_map(|(kind, one, other, third, rho, clutch, living)| Draw { kind, one, other, third, rho, clutch, living })
}

fn name(index: usize) -> String {
    // Neither in the order of the rows nor of the generations.
    format!("{:02}", (index * 37) % 100)
}

/// Two different earlier animals.
fn two(draw: &Draw, before: usize) -> (String, String) {
    let one = draw.one.index(before);
    let other = (one + 1 + draw.other.index(before - 1)) % before;
    (name(one), name(other))
}

fn animal(index: usize, draw: &Draw) -> Row {
    let (one, other) = two(draw, index);
    let id = name(index);
    let row = match draw.kind {
        0..=5 => Row::new(id, Parent::Known(one), Parent::Known(other)),
        6 => Row::new(id, Parent::Unknown, Parent::Known(one)),
        7 => Row::new(id, Parent::Known(one), Parent::WildCaught),
        8 => Row { mode: Mode::Selfing, ..Row::new(id, Parent::None, Parent::Known(one)) },
        9 => Row { mode: Mode::Clone, ..Row::new(id, Parent::None, Parent::Known(one)) },
        10 => {
            let rho = [0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0][usize::from(draw.rho)];
            Row { mode: Mode::Automixis { rho }, ..Row::new(id, Parent::None, Parent::Known(one)) }
        }
        11 => Row { clutch: (draw.clutch > 0).then(|| format!("C{}", draw.clutch)), ..of_a_clutch(id, draw, index) },
        _ => Row::new(id, in_doubt(draw, index, &one), Parent::Known(one)),
    };
    Row { living: draw.living, ..row }
}

/// Clutches choose among founders, always in the same way.
fn of_a_clutch(id: String, draw: &Draw, before: usize) -> Row {
    let sires = if draw.clutch == 1 { [(0, 0.5), (1, 0.5)] } else { [(1, 0.25), (2, 0.75)] };
    let sires = sires.map(|(founder, weight)| (name(founder), weight));
    let dam = 3 + draw.one.index(before - 3);
    let list: Vec<(&str, f64)> = sires.iter().map(|(id, weight)| (id.as_str(), *weight)).collect();
    Row::new(id, candidates(&list), Parent::Known(name(dam)))
}

/// Two or three candidates of any age, none of them the dam.
fn in_doubt(draw: &Draw, before: usize, dam: &str) -> Parent {
    let mut ids: Vec<String> = (0..before).map(name).filter(|id| id != dam).collect();
    ids.rotate_left(draw.third.index(before - 1));
    let weights: &[f64] = if draw.rho < 2 { &[0.5, 0.3, 0.2] } else { &[0.25, 0.75] };
    let list: Vec<(&str, f64)> = ids.iter().map(String::as_str).zip(weights.iter().copied()).collect();
    candidates(&list)
}

fn table(kinds: std::ops::Range<u8>, animals: std::ops::Range<usize>) -> impl Strategy<Value = Vec<Row>> {
    vec(draw(kinds), animals).prop_map(|draws| {
        // One founder lives, so that there is always somebody to take means over.
        let founder = |i| Row { living: i == 0, ..Row::new(name(i), Parent::Unknown, Parent::Unknown) };
        let mut rows: Vec<Row> = (0..FOUNDERS).map(founder).collect();
        rows.extend(draws.iter().enumerate().map(|(i, draw)| animal(FOUNDERS + i, draw)));
        rows
    })
}

fn living(rows: &[Row]) -> Vec<usize> {
    (0..rows.len()).filter(|i| rows[*i].living).collect()
}

fn near(found: f64, wanted: f64) -> Result<(), TestCaseError> {
    prop_assert!((found - wanted).abs() <= CLOSE, "found {found}, wanted {wanted}");
    Ok(())
}

/// A table with its rows in another order, and where each row went.
fn shuffled() -> impl Strategy<Value = (Vec<Row>, Vec<Row>)> {
    table(0..13, 1..14).prop_flat_map(|rows| (Just(rows.clone()), Just(rows).prop_shuffle()))
}

proptest! {
    /// Colleau's products, the table, and F are the mean over all worlds of the tabular method.
    #[test]
    fn kinship_is_that_of_the_dense_table(rows in table(0..13, 1..9)) {
        let (found, wanted) = (pedigree(&rows), second::kinships(&rows));
        let (dense, living) = (found.kinship_table().expect("small"), living(&rows));
        let lines = dense.lines().expect("small");
        let (inbreeding, means) = (found.inbreeding(), found.mean_kinship().expect("one lives"));
        for (i, wanted) in wanted.iter().enumerate() {
            near(inbreeding[i], 2.0 * wanted[i] - 1.0)?;
            let line = found.kinship_of(i).expect("an animal");
            for (j, wanted) in wanted.iter().enumerate() {
                near(line[j], *wanted)?;
                near(dense.of(i, j), *wanted)?;
                near(lines[i][j], *wanted)?;
            }
            near(means[i], living.iter().map(|j| wanted[*j]).sum::<f64>() / living.len() as f64)?;
        }
        let all = living.iter().flat_map(|i| living.iter().map(|j| wanted[*i][*j])).sum::<f64>();
        near(found.population_mean_kinship().expect("some live"), all / (living.len() * living.len()) as f64)?;
    }

    /// Larger pedigrees, without candidates, whose worlds would be too many.
    #[test]
    fn kinship_of_many_is_that_of_the_dense_table(rows in table(0..11, 40..90)) {
        let (found, wanted) = (pedigree(&rows), second::kinships(&rows));
        let (inbreeding, means, living) = (found.inbreeding(), found.mean_kinship().expect("one lives"), living(&rows));
        for (i, wanted) in wanted.iter().enumerate() {
            near(inbreeding[i], 2.0 * wanted[i] - 1.0)?;
            near(means[i], living.iter().map(|j| wanted[*j]).sum::<f64>() / living.len() as f64)?;
        }
    }

    /// The order of the rows is nowhere in the digits.
    #[test]
    fn the_order_of_the_rows_does_not_matter((rows, others) in shuffled()) {
        let (one, other) = (pedigree(&rows), pedigree(&others));
        let at: Vec<usize> = rows.iter().map(|row| other.index_of(&row.id).expect("the same animals")).collect();
        let moved = |values: Vec<f64>| at.iter().map(|i| values[*i]).collect::<Vec<f64>>();
        prop_assert_eq!(one.inbreeding(), moved(other.inbreeding()));
        prop_assert_eq!(one.mean_kinship().expect("some"), moved(other.mean_kinship().expect("some")));
        prop_assert_eq!(one.population_mean_kinship(), other.population_mean_kinship());
        prop_assert_eq!(one.effective_founders(), other.effective_founders());
        prop_assert_eq!(one.effective_ancestors(), other.effective_ancestors());
        prop_assert_eq!(one.known_fraction(), other.known_fraction());
        let drops = Drops { count: 50, seed: 3 };
        let (one, other) = (one.retention_by_gene_drop(drops), other.retention_by_gene_drop(drops));
        prop_assert_eq!(one.map(|r| r.founder_genome_equivalents), other.map(|r| r.founder_genome_equivalents));
    }

    /// Founders share out the whole, and nobody is worth more than the effective numbers allow.
    #[test]
    fn founders_share_out_everything(rows in table(0..13, 1..30)) {
        let found = pedigree(&rows);
        let founders = found.founders().expect("some live");
        near(founders.iter().map(|f| f.contribution).sum(), 1.0)?;
        let effective = found.effective_founders().expect("some live");
        prop_assert!(effective >= 1.0 - CLOSE && effective <= founders.len() as f64 + CLOSE);
        let ancestry = found.effective_ancestors().expect("some live");
        near(ancestry.ancestors.iter().map(|a| a.marginal).sum(), 1.0)?;
        let (known, wild) = (found.known_fraction().expect("some"), found.wild_fraction().expect("some"));
        prop_assert!((0.0..=1.0 + CLOSE).contains(&known) && (0.0..=1.0 + CLOSE).contains(&wild));
    }

    /// One choice at a time is what going through all animals every time would choose.
    #[test]
    fn ancestors_are_those_of_the_book(rows in table(0..8, 1..40)) {
        let (found, wanted) = (pedigree(&rows).effective_ancestors().expect("some live"), second::ancestors(&rows));
        let names: Vec<&str> = found.ancestors.iter().map(|a| a.id.as_str()).collect();
        prop_assert_eq!(names, wanted.iter().map(|(id, _)| id.as_str()).collect::<Vec<_>>());
        for (found, (_, wanted)) in found.ancestors.iter().zip(&wanted) {
            near(found.marginal, *wanted)?;
        }
    }

    /// What is left of a founder is at most all of it, and at least half of what its share demands.
    #[test]
    fn retention_is_a_part(rows in table(0..13, 1..16)) {
        let found = pedigree(&rows);
        let Some(exact) = found.retention_exact().expect("some live") else { return Ok(()) };
        for founder in &exact.founders {
            prop_assert!((0.0..=1.0 + CLOSE).contains(&founder.retained), "{founder:?}");
            prop_assert_eq!(founder.retained > 0.0, founder.contribution > 0.0);
        }
        // Two alleles share in p, and none is more frequent than 1 where it is left: p <= 2 r.
        prop_assert!(exact.founders.iter().all(|f| 2.0 * f.retained >= f.contribution - CLOSE));
        let dropped = found.retention_by_gene_drop(Drops { count: 4000, seed: 11 });
        if let Ok(dropped) = dropped {
            for (dropped, exact) in dropped.founders.iter().zip(&exact.founders) {
                // Six standard errors: thousands of founders are compared here.
                let error = (exact.retained * (1.0 - exact.retained) / 4000.0).max(0.0).sqrt();
                prop_assert!((dropped.retained - exact.retained).abs() <= 6.0 * error + 1e-9, "{dropped:?} {exact:?}");
            }
        }
    }

    /// Any links whatever: a pedigree or a refusal, never a crash or an endless walk.
    #[test]
    fn any_links_end(links in vec((0..12usize, 0..12usize), 1..12)) {
        let parent = |i: usize| if i < links.len() { Parent::Known(name(i)) } else { Parent::Unknown };
        let rows: Vec<Row> = links.iter().enumerate().map(|(i, (a, b))| Row::new(name(i), parent(*a), parent(*b))).collect();
        if let Ok(found) = Pedigree::new(&rows) {
            prop_assert!(found.inbreeding().iter().all(|f| (-CLOSE..=1.0).contains(f)));
        }
    }
}
