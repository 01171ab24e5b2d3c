//! Second methods that share no code with the first: every world that the candidates allow, each with
//! the tabular method; and ancestors chosen by going through all animals every time.

use selachron_statistics::pedigree::{Mode, Parent, Row};
use std::collections::BTreeMap;

type Known = [Option<usize>; 2];

/// Kinships of all, averaged over the worlds. Rows come with parents before offspring.
pub fn kinships(rows: &[Row]) -> Vec<Vec<f64>> {
    let doubts = doubts(rows);
    let mut mean = vec![vec![0.0; rows.len()]; rows.len()];
    each_world(&doubts, &mut Vec::new(), 1.0, &mut |picked, weight| {
        let world = tabular(rows, &parents(rows, &doubts, picked));
        for (line, found) in mean.iter_mut().zip(world) {
            line.iter_mut().zip(found).for_each(|(sum, kinship)| *sum += weight * kinship);
        }
    });
    mean
}

/// One choice to be made: for whom, and among whom.
struct Doubt {
    /// Role and clutch, or role and animal.
    whose: (usize, bool, String),
    among: Vec<(usize, f64)>,
}

fn index(rows: &[Row], id: &str) -> usize {
    rows.iter().position(|row| row.id == id).expect("parents have rows")
}

fn whose(row: &Row, role: usize) -> (usize, bool, String) {
    (role, row.clutch.is_some(), row.clutch.clone().unwrap_or_else(|| row.id.clone()))
}

fn doubts(rows: &[Row]) -> Vec<Doubt> {
    let mut found: Vec<Doubt> = Vec::new();
    for row in rows {
        for (role, parent) in [&row.sire, &row.dam].into_iter().enumerate() {
            let (Parent::Candidates(list), whose) = (parent, whose(row, role)) else { continue };
            if found.iter().all(|doubt| doubt.whose != whose) {
                found.push(Doubt { whose, among: list.iter().map(|c| (index(rows, &c.id), c.weight)).collect() });
            }
        }
    }
    found
}

fn each_world(doubts: &[Doubt], picked: &mut Vec<usize>, weight: f64, visit: &mut impl FnMut(&[usize], f64)) {
    let Some(doubt) = doubts.get(picked.len()) else { return visit(picked, weight) };
    for (candidate, chance) in &doubt.among {
        picked.push(*candidate);
        each_world(doubts, picked, weight * chance, visit);
        picked.pop();
    }
}

fn parents(rows: &[Row], doubts: &[Doubt], picked: &[usize]) -> Vec<Known> {
    let known = |row: &Row, role: usize, parent: &Parent| match parent {
        Parent::Known(id) => Some(index(rows, id)),
        Parent::Candidates(_) => doubts.iter().position(|doubt| doubt.whose == whose(row, role)).map(|at| picked[at]),
        Parent::Unknown | Parent::None | Parent::WildCaught => None,
    };
    rows.iter().map(|row| [known(row, 0, &row.sire), known(row, 1, &row.dam)]).collect()
}

fn tabular(rows: &[Row], parents: &[Known]) -> Vec<Vec<f64>> {
    let mut table = vec![vec![0.0; rows.len()]; rows.len()];
    for i in 0..rows.len() {
        let [sire, dam] = parents[i];
        let with = |table: &Vec<Vec<f64>>, parent: Option<usize>, j: usize| parent.map_or(0.0, |p| table[p][j]);
        for j in 0..i {
            let kinship = match rows[i].mode {
                Mode::Sexual => (with(&table, sire, j) + with(&table, dam, j)) / 2.0,
                _ => with(&table, dam, j),
            };
            (table[i][j], table[j][i]) = (kinship, kinship);
        }
        let dam_inbreeding = dam.map_or(0.0, |d| 2.0 * table[d][d] - 1.0);
        let inbreeding = match rows[i].mode.rho() {
            None => sire.map_or(0.0, |s| with(&table, dam, s)),
            Some(rho) => rho + (1.0 - rho) * dam_inbreeding,
        };
        table[i][i] = (1.0 + inbreeding) / 2.0;
    }
    table
}

/// Boichard's ancestors by the book: all contributions anew for every choice. Sexual rows with
/// known and unknown parents, parents before offspring.
pub fn ancestors(rows: &[Row]) -> Vec<(String, f64)> {
    let (parents, ids) = with_unknown_parents(rows);
    let depth = parents.iter().fold(Vec::new(), |mut depth: Vec<usize>, pair| {
        depth.push(pair.iter().flatten().map(|p| depth[*p] + 1).max().unwrap_or(0));
        depth
    });
    let living: BTreeMap<&str, bool> = rows.iter().map(|row| (row.id.as_str(), row.living)).collect();
    let lives = |id: &str| living.get(id).copied().unwrap_or(false);
    let count = rows.iter().filter(|row| row.living).count() as f64;
    let mut cut = parents.clone();
    let mut chosen: Vec<(usize, f64)> = Vec::new();
    loop {
        let mut q: Vec<f64> = ids.iter().map(|id| f64::from(u8::from(lives(id))) / count).collect();
        for i in (0..ids.len()).rev() {
            cut[i].iter().flatten().for_each(|p| q[*p] += q[i] / 2.0);
        }
        let mut a = vec![0.0; ids.len()];
        for i in 0..ids.len() {
            a[i] = cut[i].iter().flatten().map(|p| a[*p] / 2.0).sum();
            if chosen.iter().any(|(c, _)| *c == i) {
                a[i] = 1.0;
            }
        }
        let worth: Vec<f64> = (0..ids.len()).map(|i| q[i] * (1.0 - a[i])).collect();
        let best = worth.iter().copied().fold(0.0, f64::max);
        if best < 1e-11 {
            return chosen.into_iter().map(|(i, p)| (ids[i].clone(), p)).collect();
        }
        let tied = (0..ids.len()).filter(|i| worth[*i] > best - 1e-11);
        let next = tied.min_by_key(|i| (depth[*i], ids[*i].clone())).expect("the best is among them");
        chosen.push((next, worth[next]));
        cut[next] = [None, None];
    }
}

/// Every unknown parent beside a known one gets a place before its offspring.
fn with_unknown_parents(rows: &[Row]) -> (Vec<Known>, Vec<String>) {
    let (mut parents, mut ids): (Vec<Known>, Vec<String>) = (Vec::new(), Vec::new());
    for row in rows {
        let find = |ids: &[String], parent: &Parent| match parent {
            Parent::Known(id) => ids.iter().position(|known| known == id),
            _ => None,
        };
        let mut pair = [find(&ids, &row.sire), find(&ids, &row.dam)];
        if pair.iter().flatten().count() == 1 {
            parents.push([None, None]);
            ids.push(format!("?{}", row.id));
            pair.iter_mut().filter(|p| p.is_none()).for_each(|p| *p = Some(ids.len() - 1));
        }
        parents.push(pair);
        ids.push(row.id.clone());
    }
    (parents, ids)
}
