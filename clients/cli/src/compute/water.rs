//! `compute water`: what readings of the water mean.

use super::answer::{Notes, text};
use super::args::WaterArgs;
use super::table::{Column, Source, Table};
use crate::fault::Fault;
use selachron_statistics::reason::{Error, InvalidInput};
use selachron_statistics::water::ammonia::AmmoniaForm;
use selachron_statistics::water::units::ATM_HPA;
use selachron_statistics::water::{
    Flag, PhScale, Temperature, density_kg_m3, oxygen_percent, oxygen_saturation, practical_salinity, un_ionised_ammonia,
};
use serde::Serialize;

#[derive(Serialize)]
struct Answer {
    rows: Vec<Row>,
    notes: Notes,
}

#[derive(Default, Serialize)]
struct Row {
    un_ionised_fraction: Option<f64>,
    un_ionised_mg_l_n: Option<f64>,
    oxygen_saturation_mg_l: Option<f64>,
    oxygen_percent: Option<f64>,
    density_kg_m3: Option<f64>,
    salinity_psu: Option<f64>,
    /// The fraction by a second formula, where the first is doubted.
    #[serde(skip_serializing_if = "Option::is_none")]
    un_ionised_check_fraction: Option<f64>,
    flags: Vec<String>,
}

const COLUMNS: [&str; 8] = ["t_c", "salinity_psu", "ph", "ph_scale", "tan_mg_l_n", "oxygen_mg_l", "pressure_hpa", "conductivity_ms_cm"];

pub(super) fn run(asked: &WaterArgs) -> Result<String, Fault> {
    let mut table = Table::open(Source::open(asked.input.file.as_deref())?, &[], &COLUMNS)?.answered_by_row();
    if COLUMNS.iter().all(|name| table.column(name).is_none()) {
        return Err(table.fault(&format!("the header names none of {}", COLUMNS.join(", "))));
    }
    let (mut rows, mut notes) = (Vec::new(), Notes::default());
    while table.advance()? {
        rows.push(Reading::of(&table)?.told(&table, &mut notes)?);
    }
    text(&Answer { rows, notes })
}

/// One row of readings.
struct Reading {
    t: Option<Temperature>,
    salinity_psu: Option<f64>,
    ph: Option<f64>,
    ph_scale: PhScale,
    tan_mg_l_n: Option<f64>,
    oxygen_mg_l: Option<f64>,
    pressure_hpa: Option<f64>,
    conductivity_ms_cm: Option<f64>,
}

impl Reading {
    fn of(table: &Table) -> Result<Self, Fault> {
        let number = |name: &str| table.column(name).map_or(Ok(None), |column| table.number_or_empty(column));
        let t = number("t_c")?.map(Temperature::its90).transpose().map_err(|wrong| table.refused(&wrong))?;
        Ok(Self {
            t,
            salinity_psu: number("salinity_psu")?,
            ph: number("ph")?,
            ph_scale: table.column("ph_scale").map_or(Ok(PhScale::Unknown), |column| scale(table, column))?,
            tan_mg_l_n: number("tan_mg_l_n")?,
            oxygen_mg_l: number("oxygen_mg_l")?,
            pressure_hpa: number("pressure_hpa")?,
            conductivity_ms_cm: number("conductivity_ms_cm")?,
        })
    }

    fn told(&self, table: &Table, notes: &mut Notes) -> Result<Row, Fault> {
        let mut row = Row::default();
        let refused = |wrong: InvalidInput| table.refused(&wrong);
        self.salinity(&mut row, notes).map_err(refused)?;
        let (Some(t), Some(salinity)) = (self.t, row.salinity_psu) else {
            notes.say("figures are null where t_c is missing, or salinity_psu and conductivity_ms_cm both are");
            return Ok(row);
        };
        let density = density_kg_m3(salinity, t, 0.0).map_err(refused)?;
        row.density_kg_m3 = Some(density.value);
        row.flag("density_kg_m3", &density.flags);
        self.oxygen(&mut row, t, salinity, notes).map_err(refused)?;
        match self.ammonia(&mut row, t, salinity, notes) {
            Err(Error::Input(wrong)) => return Err(refused(wrong)),
            Err(Error::NotEstimable(reason)) => notes.say(format!("un_ionised_fraction: {reason}")),
            Ok(()) => {}
        }
        Ok(row)
    }

    /// As given, else from the conductivity.
    fn salinity(&self, row: &mut Row, notes: &mut Notes) -> Result<(), InvalidInput> {
        row.salinity_psu = self.salinity_psu;
        if let (None, Some(conductivity), Some(t)) = (self.salinity_psu, self.conductivity_ms_cm, self.t) {
            let found = practical_salinity(conductivity, t)?;
            row.salinity_psu = Some(found.value);
            row.flag("salinity_psu", &found.flags);
        }
        if self.salinity_psu.is_some() && self.conductivity_ms_cm.is_some() {
            notes.say("salinity_psu: where it is given the conductivity is not used");
        }
        Ok(())
    }

    fn oxygen(&self, row: &mut Row, t: Temperature, salinity: f64, notes: &mut Notes) -> Result<(), InvalidInput> {
        if self.pressure_hpa.is_none() {
            notes.say(format!(
                "oxygen: at {ATM_HPA} hPa where pressure_hpa is missing; percent of saturation wants the pressure at the tank"
            ));
        }
        let pressure = self.pressure_hpa.unwrap_or(ATM_HPA);
        let full = oxygen_saturation(salinity, t, pressure)?;
        row.oxygen_saturation_mg_l = Some(full.oxygen_saturation_mg_l);
        row.flag("oxygen_saturation_mg_l", &full.flags);
        match self.oxygen_mg_l {
            Some(reading) => row.oxygen_percent = Some(oxygen_percent(reading, salinity, t, pressure)?.value),
            None => notes.say("oxygen_percent: null where oxygen_mg_l is missing"),
        }
        Ok(())
    }

    fn ammonia(&self, row: &mut Row, t: Temperature, salinity: f64, notes: &mut Notes) -> Result<(), Error> {
        let Some(ph) = self.ph else {
            notes.say("un_ionised_fraction: null where ph is missing");
            return Ok(());
        };
        let found = un_ionised_ammonia(ph, self.ph_scale, salinity, t)?;
        row.un_ionised_fraction = Some(found.un_ionised_fraction);
        row.un_ionised_check_fraction = found.check_fraction.filter(|_| !found.flags.is_empty());
        row.flag("un_ionised_fraction", &found.flags);
        notes.say(format!("un_ionised_fraction: {}", formula(found.form)));
        match self.tan_mg_l_n {
            Some(tan) => row.un_ionised_mg_l_n = Some(found.un_ionised_mg_l_n(tan)?),
            None => notes.say("un_ionised_mg_l_n: null where tan_mg_l_n is missing"),
        }
        Ok(())
    }
}

impl Row {
    fn flag(&mut self, figure: &str, flags: &[Flag]) {
        self.flags.extend(flags.iter().map(|flag| format!("{figure}: {flag}")));
    }
}

fn formula(form: AmmoniaForm) -> &'static str {
    match form {
        AmmoniaForm::Emerson1975 => "fresh water (below 0.5 psu) by Emerson et al. 1975",
        AmmoniaForm::BowerBidwell1978 => "seawater, NBS scale, by Bower & Bidwell 1978 at salinity 34",
        AmmoniaForm::CleggWhitfield1995Total => "seawater, total scale, by Clegg & Whitfield 1995",
        AmmoniaForm::CleggWhitfield1995Free => "seawater, free scale, by Clegg & Whitfield 1995",
    }
}

fn scale(table: &Table, column: Column) -> Result<PhScale, Fault> {
    match table.text(column).to_ascii_lowercase().as_str() {
        "nbs" => Ok(PhScale::Nbs),
        "total" => Ok(PhScale::Total),
        "free" => Ok(PhScale::Free),
        "" | "unknown" => Ok(PhScale::Unknown),
        other => Err(table.wrong(column, &format!("is {other:?}; give nbs, total, free or unknown"))),
    }
}
