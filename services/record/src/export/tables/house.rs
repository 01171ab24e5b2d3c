//! Species, systems, tanks, groups and readings of water.

use super::super::cell::row;
use super::super::folder::{Rows, Table};
use super::super::shape::{Of, Row, Shape, column};
use super::{scientific_name, when};
use crate::domain::told::Told;
use crate::domain::view::{Fact, View};
use selachron_schemas::names::Subject;

/// Species.
pub const SPECIES: Table = Table { shape: &SPECIES_SHAPE, rows: Rows::OfThings(&["species"], species_row) };
/// Water systems.
pub const SYSTEMS: Table = Table { shape: &SYSTEMS_SHAPE, rows: Rows::OfThings(&["system"], system_row) };
/// Tanks.
pub const TANKS: Table = Table { shape: &TANKS_SHAPE, rows: Rows::OfThings(&["tank"], tank_row) };
/// Groups.
pub const GROUPS: Table = Table { shape: &GROUPS_SHAPE, rows: Rows::OfThings(&["group"], group_row) };
/// Readings of water.
pub const WATER_READINGS: Table = Table { shape: &READINGS_SHAPE, rows: Rows::OfNotes(reading_row) };

const SPECIES_SHAPE: Shape = Shape {
    name: "species",
    about: "Species as the collection lists them.",
    columns: &[
        column("species", Of::Text, "The species."),
        column("scientific_name", Of::Text, "Scientific name."),
        column("common_name", Of::Text, "Name used in the house."),
        column("length_basis", Of::Text, "total or disc width."),
        column("case_shape", Of::Text, "Outline of the case."),
        column("embryos_per_case_max", Of::Count, "Most embryos in one case."),
        column("incubation_days_low", Of::Number, "Fewest days of incubation."),
        column("incubation_days_high", Of::Number, "Most days of incubation."),
        column("incubation_temperature_c_low", Of::Number, "Lowest temperature these hold for, degrees Celsius."),
        column("incubation_temperature_c_high", Of::Number, "Highest temperature these hold for, degrees Celsius."),
        column("incubation_grade", Of::Text, "fitted, single or house."),
        column("incubation_source", Of::Text, "Who says so."),
        column("listed_by_note", Of::Text, "The note."),
    ],
    key: &["species"],
    refers: &[],
};

fn species_row(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(species) = view.species(id) else { return Vec::new() };
    let incubation = species.incubation.as_ref();
    vec![row![
        id,
        species.scientific_name,
        species.common_name,
        species.length_basis,
        species.case_shape,
        species.embryos_per_case_max,
        incubation.map(|one| one.days_low),
        incubation.map(|one| one.days_high),
        incubation.map(|one| one.temperature_c_low),
        incubation.map(|one| one.temperature_c_high),
        incubation.map(|one| &one.grade),
        incubation.map(|one| &one.source),
        species.listed.event,
    ]]
}

const SYSTEMS_SHAPE: Shape = Shape {
    name: "systems",
    about: "Water systems: tanks that share water.",
    columns: &[
        column("system", Of::Text, "The system."),
        column("label", Of::Text, "Its label."),
        column("water", Of::Text, "tropical, temperate or cold."),
        column("volume_l", Of::Number, "Volume in litres."),
        column("set_up_at", Of::Time, "Since."),
        column("set_up_by_note", Of::Text, "The note."),
    ],
    key: &["system"],
    refers: &[],
};

fn system_row(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(system) = view.system(id) else { return Vec::new() };
    vec![row![id, system.label, system.water, system.volume_l, system.set_up.time, system.set_up.event]]
}

const TANKS_SHAPE: Shape = Shape {
    name: "tanks",
    about: "Tanks, incubation tanks and baskets too, as they stand.",
    columns: &[
        column("tank", Of::Text, "The tank."),
        column("label", Of::Text, "Its label."),
        column("purpose", Of::Text, "adults, incubation, nursery, rearing, display, quarantine or holding."),
        column("system", Of::Text, "The system whose water it shares."),
        column("volume_l", Of::Number, "Volume in litres."),
        column("eggs", Of::Count, "Open cases in it."),
        column("animals", Of::Count, "Animals in it that are present."),
        column("set_up_at", Of::Time, "Since."),
        column("retired_at", Of::Time, "Out of use since."),
        column("set_up_by_note", Of::Text, "The note."),
    ],
    key: &["tank"],
    refers: &[],
};

fn tank_row(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(tank) = view.tank(id) else { return Vec::new() };
    vec![row![
        id,
        tank.label,
        tank.purpose,
        tank.system.as_ref(),
        tank.volume_l,
        tank.eggs.len(),
        tank.animals.len(),
        tank.set_up.time,
        tank.care.retired.map(|retired| retired.when.time),
        tank.set_up.event,
    ]]
}

const GROUPS_SHAPE: Shape = Shape {
    name: "groups",
    about: "Animals that cannot be told apart and are counted together, without those told apart since.",
    columns: &[
        column("group", Of::Text, "The group."),
        column("label", Of::Text, "What the house calls it."),
        column("species", Of::Text, "Its species."),
        column("scientific_name", Of::Text, "Name of the species as the collection lists it."),
        column("formed_at", Of::Time, "When it was put down as a group."),
        column("came", Of::Text, "received; hatched here, case unknown; or split."),
        column("split_from", Of::Text, "The group it was split from."),
        column("males", Of::Count, "Males."),
        column("females", Of::Count, "Females."),
        column("sex_unknown", Of::Count, "Animals whose sex is not known."),
        column("how_counted", Of::Text, "The written statement of how they are counted."),
        column("last_full_count_at", Of::Time, "The last full count."),
        column("tank", Of::Text, "Where it is."),
        column("ended_at", Of::Time, "Since when there is nobody left in it."),
        column("formed_by_note", Of::Text, "The note."),
    ],
    key: &["group"],
    refers: &[],
};

fn group_row(view: &View<'_>, id: &Subject) -> Vec<Row> {
    let Some(group) = view.group(id) else { return Vec::new() };
    vec![row![
        id,
        group.label,
        group.species.as_ref(),
        scientific_name(view, group.species.as_ref()),
        group.formed.time,
        group.came,
        group.split_from.as_ref(),
        group.counts.males,
        group.counts.females,
        group.counts.unknown,
        group.how_counted,
        group.last_full_count.map(|moment| moment.time),
        group.place.as_ref().map(|place| &place.tank),
        group.ended.map(|moment| moment.time),
        group.formed.event,
    ]]
}

const READINGS_SHAPE: Shape = Shape {
    name: "water_readings",
    about: "Readings of water as they were taken: value, unit in the column's name, and basis.",
    columns: &[
        column("note", Of::Text, "The note."),
        column("place", Of::Text, "The system or tank."),
        column("at", Of::Time, "When."),
        column("after", Of::Time, "It was after this and not after at."),
        column("temperature_c", Of::Number, "Degrees Celsius."),
        column("temperature_scale", Of::Text, "ITS-90 or IPTS-68."),
        column("salinity_psu", Of::Number, "Practical salinity (PSS-78), no unit."),
        column("ph", Of::Number, "pH on ph_scale."),
        column("ph_scale", Of::Text, "NBS, total, free or unknown."),
        column("ammonia_total_mg_l_n", Of::Number, "Total ammonia as nitrogen, mg/L."),
        column("nitrite_mg_l_n", Of::Number, "Nitrite as nitrogen, mg/L."),
        column("nitrate_mg_l_n", Of::Number, "Nitrate as nitrogen, mg/L."),
        column("oxygen_mg_l", Of::Number, "Oxygen, mg/L."),
        column("oxygen_percent", Of::Number, "Oxygen, percent of saturation."),
        column("pressure_hpa", Of::Number, "Barometric pressure, hPa."),
        column("instrument", Of::Text, "The instrument, in words."),
        column("point", Of::Text, "Where in the system."),
        column("person", Of::Text, "Pseudonym of who read it."),
    ],
    key: &["note"],
    refers: &[],
};

fn reading_row(_: &View<'_>, fact: &Fact<'_>) -> Vec<Row> {
    let Told::WaterMeasured(reading) = fact.told() else { return Vec::new() };
    let (at, after) = when(Some(fact.moment()));
    vec![row![
        fact.note.id,
        fact.subject(),
        at,
        after,
        reading.temperature_c,
        reading.temperature_scale.as_ref(),
        reading.salinity_psu,
        reading.ph,
        reading.ph_scale.as_ref(),
        reading.ammonia_total_mg_l_n,
        reading.nitrite_mg_l_n,
        reading.nitrate_mg_l_n,
        reading.oxygen_mg_l,
        reading.oxygen_percent,
        reading.pressure_hpa,
        &reading.instrument,
        reading.point.as_ref(),
        fact.note.person(),
    ]]
}
