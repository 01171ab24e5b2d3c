//! Published durations of incubation, for the listing of a species (`incubation_points`).
//!
//! `incubation_published.csv` holds only what was read in an abstract, each with its source. Left
//! out are figures from memory or hearsay, *Poroderma pantherinum* (266 d at 14 °C and 125 d at
//! 17 °C would be a Q10 of 12.4) and day counts of *Hemiscyllium ocellatum* that come from summaries
//! of a paper. It is a help for whoever lists a species, who answers for what is signed.

use serde_json::{Map, Value, json};

const TABLE: &str = include_str!("../incubation_published.csv");

/// The points of a species as `species.listed.v1` takes them; none for a species that is not in
/// the table.
#[must_use]
pub fn incubation_points(scientific_name: &str) -> Vec<Value> {
    let mut lines = TABLE.lines();
    let columns: Vec<&str> = lines.next().unwrap_or_default().split(',').collect();
    lines.filter_map(|line| point(&columns, line, scientific_name)).collect()
}

/// The species of the table, each once.
#[must_use]
pub fn species() -> Vec<&'static str> {
    let mut names: Vec<&str> = TABLE.lines().skip(1).filter_map(|line| line.split(',').next()).collect();
    names.dedup();
    names
}

fn point(columns: &[&str], line: &str, scientific_name: &str) -> Option<Value> {
    let cells: Vec<&str> = line.split(',').collect();
    if cells.first() != Some(&scientific_name) {
        return None;
    }
    let told = columns.iter().zip(&cells).skip(1).filter(|(_, cell)| !cell.is_empty());
    let mut point: Map<String, Value> = told.map(|(name, cell)| ((*name).to_owned(), value(name, cell))).collect();
    point.insert("confidence".to_owned(), json!("abstract"));
    Some(Value::Object(point))
}

fn value(name: &str, cell: &str) -> Value {
    match name {
        "source" | "doi" => json!(cell),
        _ => cell.parse::<serde_json::Number>().map_or(json!(cell), Value::Number),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_species_has_its_points_with_their_sources() {
        let points = incubation_points("Hemiscyllium ocellatum");
        assert_eq!(points.len(), 1, "{points:?}");
        assert_eq!((&points[0]["days"], &points[0]["sd_days"], &points[0]["cases"]), (&json!(140.3), &json!(4.6), &json!(7)));
        assert!(points[0]["source"].as_str().is_some_and(|source| source.starts_with("Payne 2012")));
        assert_eq!(incubation_points("Haploblepharus pictus").len(), 2);
        assert!(incubation_points("Poroderma pantherinum").is_empty() && incubation_points("Inventus exemplaris").is_empty());
    }

    #[test]
    fn every_row_can_be_signed() {
        for name in species() {
            let data = json!({"scientific_name": name, "common_name": "any", "length_basis": "total", "incubation_points": incubation_points(name)});
            let kind = crate::catalogue::catalogue().kind("species.listed.v1").expect("the kind");
            let checked = kind.check_data(data.as_object().expect("members"), "/data");
            assert!(checked.is_ok(), "{name}: {checked:?}");
        }
    }
}
