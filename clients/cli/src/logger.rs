//! Files of loggers: a settings file says what each column is, in which unit and on which basis, and
//! nothing is guessed. What is wrong is named by row and column, and then nothing of the file is
//! taken; gaps, clock jumps and rows that stand twice are told.
//!
//! ```toml
//! system = "Warm"            # or tank = "Q1"
//! instrument = "Logger 4"    # as the record knows it
//! time_zone = "UTC"          # of the times in the file
//! time_column = "Date Time"
//! time_format = "%Y-%m-%d %H:%M"   # where it is not 2026-03-09 09:30
//! gap_hours = 6              # a longer silence is named
//! thin_minutes = 60          # optional, and said in every note
//! [[columns]]
//! name = "Temp"
//! quantity = "temperature"
//! unit = "F"
//! basis = "ITS-90"
//! ```

use crate::fault::Fault;
use crate::when::read_time;
use chrono::{LocalResult, NaiveDateTime, TimeZone as _};
use chrono_tz::Tz;
use selachron_schemas::limits::{COMPUTE_LISTED_MAX, LOGGER_ROWS_MAX};
use selachron_schemas::time::{HOUR_MS, Instant, MINUTE_MS};
use selachron_statistics::water::units::{NitrogenBasis, NitrogenForm, c_of_fahrenheit, hpa_of_atm, hpa_of_mmhg, oxygen_mg_l_of_ml_l};
use serde::Deserialize;
use serde_json::{Map, Value, json};

/// What the settings file says.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LoggerSettings {
    /// The system that it stood in, by label or id.
    pub system: Option<String>,
    /// Or the tank.
    pub tank: Option<String>,
    /// The instrument, as the record knows it.
    pub instrument: String,
    /// Where in the system.
    pub point: Option<String>,
    /// IANA zone of the times in the file.
    pub time_zone: String,
    /// Name of the column of times.
    pub time_column: String,
    /// Its form, as strftime says it.
    pub time_format: Option<String>,
    /// What parts the cells, one byte.
    pub delimiter: Option<char>,
    /// Lines above the header.
    #[serde(default)]
    pub skip_lines: usize,
    /// A longer silence is named, in hours.
    pub gap_hours: u32,
    /// Only one reading in so many minutes is taken.
    pub thin_minutes: Option<u32>,
    /// What the columns are.
    pub columns: Vec<LoggerColumn>,
}

/// What one column is.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LoggerColumn {
    /// Its head in the file.
    pub name: String,
    /// `temperature`, `salinity`, `pH`, `ammonia`, `nitrite`, `nitrate`, `oxygen`, `pressure`.
    pub quantity: String,
    /// The unit; never guessed.
    pub unit: Option<String>,
    /// The basis: scale of a temperature or pH, as nitrogen or as ion, of what.
    pub basis: Option<String>,
}

/// What one row says.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggerRow {
    /// From 1 below the header.
    pub row: u64,
    /// When.
    pub time: Instant,
    /// Members of the note.
    pub members: Map<String, Value>,
}

/// A file that was read.
#[derive(Debug, Clone, Default)]
pub struct LoggerFile {
    /// Rows to be sent, in order of time.
    pub rows: Vec<LoggerRow>,
    /// Gaps, clock jumps, rows that stand twice or were thinned out: what a person must know.
    pub told: Vec<String>,
}

/// How a column becomes members of a note.
#[derive(Debug, Clone)]
struct Taken {
    name: String,
    at: usize,
    member: &'static str,
    scale: Option<(&'static str, &'static str)>,
    convert: fn(f64) -> f64,
}

const COLUMNS: &str = "temperature in C, F or K on ITS-90 or IPTS-68; salinity in psu on PSS-78; pH in pH on NBS, total, free or unknown; \
     ammonia, nitrite, nitrate in mg/L \"as nitrogen\" or \"as ion\"; oxygen in mg/L or mL/L \"dissolved\" or in % \"of saturation\"; \
     pressure in hPa, kPa, mmHg or atm \"at the place\"";

impl LoggerSettings {
    /// Reads a settings file.
    ///
    /// # Errors
    /// It is none, or a column lacks its unit or basis: the sentence names it.
    pub fn read(text: &str, name: &str) -> Result<Self, Fault> {
        let settings: Self = toml::from_str(text).map_err(|error| Fault::Usage(format!("{name}: {}", error.message())))?;
        if settings.system.is_some() == settings.tank.is_some() {
            return Err(Fault::Usage(format!("{name}: name either a system or a tank")));
        }
        if settings.columns.is_empty() {
            return Err(Fault::Usage(format!("{name}: no column is named")));
        }
        settings.zone()?;
        settings.columns.iter().try_for_each(|column| taken(column, 0).map(|_| ()))?;
        Ok(settings)
    }

    fn zone(&self) -> Result<Tz, Fault> {
        let wrong =
            || Fault::Usage(format!("time_zone: {:?} is no zone of the IANA database, such as UTC or Europe/Lisbon", self.time_zone));
        self.time_zone.parse().map_err(|_| wrong())
    }

    /// Reads a logger's file.
    ///
    /// # Errors
    /// A column is not there, or rows cannot be understood; the sentence names up to 20 of them.
    /// Then nothing is taken.
    pub fn rows(&self, text: &str) -> Result<LoggerFile, Fault> {
        let body: String = text.trim_start_matches('\u{feff}').lines().skip(self.skip_lines).map(|line| format!("{line}\n")).collect();
        let mut builder = csv::ReaderBuilder::new();
        builder.delimiter(u8::try_from(self.delimiter.unwrap_or(',')).map_err(|_| Fault::Usage("delimiter: it is one byte".to_owned()))?);
        let mut reader = builder.flexible(false).trim(csv::Trim::All).from_reader(body.as_bytes());
        let header = reader.headers().map_err(|error| Fault::Usage(format!("the header: {error}")))?.clone();
        let place = |name: &str| header.iter().position(|head| head == name).ok_or_else(|| no_column(name, &header));
        let time_at = place(&self.time_column)?;
        let columns = self.columns.iter().map(|column| taken(column, place(&column.name)?)).collect::<Result<Vec<_>, _>>()?;
        let (mut rows, mut wrong) = (Vec::new(), Vec::new());
        let zone = self.zone()?;
        for (row, record) in (1..).zip(reader.records()) {
            if row > LOGGER_ROWS_MAX {
                return Err(Fault::Usage(format!("the file has more than {LOGGER_ROWS_MAX} rows; cut it into parts")));
            }
            match record.map_err(|error| error.to_string()).and_then(|record| self.row(row, &record, time_at, &columns, zone)) {
                Ok(read) => rows.push(read),
                Err(says) => wrong.push(format!("row {row}: {says}")),
            }
        }
        refuse(&wrong)?;
        Ok(self.in_order(rows))
    }

    fn row(&self, row: u64, record: &csv::StringRecord, time_at: usize, columns: &[Taken], zone: Tz) -> Result<LoggerRow, String> {
        let cell = |at: usize| record.get(at).unwrap_or_default();
        let time = self.time(cell(time_at), zone).map_err(|says| format!("column {:?}: {says}", self.time_column))?;
        let mut members = Map::new();
        for column in columns.iter().filter(|column| !cell(column.at).is_empty()) {
            let text = cell(column.at);
            let number = text.parse::<f64>().ok().filter(|number| number.is_finite());
            let number = number.ok_or_else(|| format!("column {:?}: {text:?} is no number", column.name))?;
            members.insert(column.member.to_owned(), json!(rounded((column.convert)(number))));
            if let Some((name, scale)) = column.scale {
                members.insert(name.to_owned(), json!(scale));
            }
        }
        Ok(LoggerRow { row, time, members })
    }

    fn time(&self, text: &str, zone: Tz) -> Result<Instant, String> {
        let Some(format) = &self.time_format else { return read_time(text, zone, Instant(0)) };
        let wall = NaiveDateTime::parse_from_str(text, format).map_err(|error| format!("{text:?} is not {format:?}: {error}"))?;
        match zone.from_local_datetime(&wall) {
            LocalResult::Single(time) => Ok(Instant(time.timestamp_millis())),
            LocalResult::Ambiguous(..) => Err(format!("{text} happened twice in {zone}, when the clock went back; export the file in UTC")),
            LocalResult::None => Err(format!("{text} never was in {zone}: the clock went forward over it")),
        }
    }

    /// What stands twice, goes back, is silent for too long or is thinned out is told.
    fn in_order(&self, read: Vec<LoggerRow>) -> LoggerFile {
        let mut file = LoggerFile::default();
        let (mut thinned, mut last_read): (u64, Option<(Instant, u64)>) = (0, None);
        for row in read.into_iter().filter(|row| !row.members.is_empty()) {
            if let Some((last, at)) = last_read {
                if row.time < last {
                    let by = minutes(last.0 - row.time.0);
                    file.told.push(format!("row {}: the clock jumps back {by} behind row {at}; the row is left out", row.row));
                    continue;
                }
                if row.time == last {
                    file.told.push(format!("row {}: the same time as row {at}; the row is left out", row.row));
                    continue;
                }
                if row.time.0 - last.0 > i64::from(self.gap_hours) * HOUR_MS {
                    let from = last.utc_text();
                    file.told.push(format!(
                        "row {}: nothing for {} since {from}; the gap stays a gap",
                        row.row,
                        minutes(row.time.0 - last.0)
                    ));
                }
            }
            last_read = Some((row.time, row.row));
            let apart = |last: &LoggerRow| self.thin_minutes.is_none_or(|least| row.time.0 - last.time.0 >= i64::from(least) * MINUTE_MS);
            if file.rows.last().is_none_or(apart) { file.rows.push(row) } else { thinned += 1 }
        }
        if let (Some(least), true) = (self.thin_minutes, thinned > 0) {
            file.told.push(format!("thinned to one reading in {least} minutes: {thinned} rows are not sent"));
        }
        file
    }
}

/// Refuses with the first of what is wrong, and how many there are.
///
/// # Errors
/// Something is wrong.
pub fn refuse(wrong: &[String]) -> Result<(), Fault> {
    if wrong.is_empty() {
        return Ok(());
    }
    let shown = wrong.iter().take(COMPUTE_LISTED_MAX).cloned().collect::<Vec<_>>().join("\n");
    let more = wrong.len().saturating_sub(COMPUTE_LISTED_MAX);
    let rest = if more > 0 { format!("\nand {more} more") } else { String::new() };
    Err(Fault::Usage(format!("nothing of the file was sent:\n{shown}{rest}")))
}

fn no_column(name: &str, header: &csv::StringRecord) -> Fault {
    let there: Vec<&str> = header.iter().collect();
    Fault::Usage(format!("the file has no column {name:?}; it has: {}", there.join(", ")))
}

fn minutes(ms: i64) -> String {
    match ms / MINUTE_MS {
        0 => "less than a minute".to_owned(),
        minutes if ms < HOUR_MS => format!("{minutes} minutes"),
        _ => format!("{:.1} hours", ms as f64 / HOUR_MS as f64),
    }
}

/// A converted value, without the dust of the conversion.
fn rounded(value: f64) -> f64 {
    const DUST: f64 = 1e9;
    (value * DUST).round() / DUST
}

fn taken(column: &LoggerColumn, at: usize) -> Result<Taken, Fault> {
    let wrong = |says: String| Fault::Usage(format!("column {:?}: {says}; there is {COLUMNS}", column.name));
    let unit = column.unit.as_deref().ok_or_else(|| wrong(no_unit(&column.quantity)))?;
    let basis = column.basis.as_deref().ok_or_else(|| wrong(format!("its {} has no basis", column.quantity)))?;
    let found = member(&column.quantity, unit, basis);
    let (member, convert, scale) = found.ok_or_else(|| wrong(format!("{} in {unit:?} on {basis:?} is not known", column.quantity)))?;
    Ok(Taken { name: column.name.clone(), at, member, scale, convert })
}

fn no_unit(quantity: &str) -> String {
    match quantity {
        "temperature" => "a temperature without its unit is not taken; say C, F or K, for 77 may be either".to_owned(),
        quantity => format!("its {quantity} has no unit"),
    }
}

type Member = (&'static str, fn(f64) -> f64, Option<(&'static str, &'static str)>);

fn member(quantity: &str, unit: &str, basis: &str) -> Option<Member> {
    let same: fn(f64) -> f64 = |value| value;
    match quantity {
        "temperature" => {
            let scale = ["ITS-90", "IPTS-68"].into_iter().find(|scale| *scale == basis)?;
            let convert: fn(f64) -> f64 = match unit.trim_start_matches('°') {
                "C" => same,
                "F" => c_of_fahrenheit,
                "K" => |kelvin| kelvin - selachron_statistics::incubation::ZERO_C_IN_K,
                _ => return None,
            };
            Some(("temperature_c", convert, Some(("temperature_scale", scale))))
        }
        "salinity" => (unit == "psu" && basis == "PSS-78").then_some(("salinity_psu", same, None)),
        "pH" => {
            let scale = ["NBS", "total", "free", "unknown"].into_iter().find(|scale| *scale == basis)?;
            (unit == "pH").then_some(("ph", same, Some(("ph_scale", scale))))
        }
        "ammonia" | "nitrite" | "nitrate" => nitrogen(quantity, unit, basis),
        "oxygen" => match (unit, basis) {
            ("mg/L", "dissolved") => Some(("oxygen_mg_l", same, None)),
            ("mL/L", "dissolved") => Some(("oxygen_mg_l", oxygen_mg_l_of_ml_l, None)),
            ("%", "of saturation") => Some(("oxygen_percent", same, None)),
            _ => None,
        },
        "pressure" => {
            let convert: fn(f64) -> f64 = match unit {
                "hPa" | "mbar" => same,
                "kPa" => |kpa| kpa * 10.0,
                "mmHg" => hpa_of_mmhg,
                "atm" => hpa_of_atm,
                _ => return None,
            };
            (basis == "at the place").then_some(("pressure_hpa", convert, None))
        }
        _ => None,
    }
}

fn nitrogen(quantity: &str, unit: &str, basis: &str) -> Option<Member> {
    fn of(form: NitrogenForm, value: f64) -> f64 {
        // A value below 0 stays as it is: the schema refuses it by name.
        form.convert(value, NitrogenBasis::Whole, NitrogenBasis::Nitrogen).unwrap_or(value)
    }
    let (member, ion): (&'static str, fn(f64) -> f64) = match quantity {
        "ammonia" => ("ammonia_total_mg_l_n", |value| of(NitrogenForm::Ammonia, value)),
        "nitrite" => ("nitrite_mg_l_n", |value| of(NitrogenForm::Nitrite, value)),
        _ => ("nitrate_mg_l_n", |value| of(NitrogenForm::Nitrate, value)),
    };
    match (unit, basis) {
        ("mg/L", "as nitrogen") => Some((member, |value| value, None)),
        ("mg/L", "as ion") => Some((member, ion, None)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SETTINGS: &str = r#"
        system = "Warm"
        instrument = "Logger 4"
        time_zone = "Europe/Lisbon"
        time_column = "when"
        gap_hours = 6
        columns = [{name = "t", quantity = "temperature", unit = "F", basis = "ITS-90"}, {name = "no3", quantity = "nitrate", unit = "mg/L", basis = "as ion"}]
    "#;

    fn settings(text: &str) -> Result<LoggerSettings, String> {
        LoggerSettings::read(text, "logger.toml").map_err(|fault| fault.to_string())
    }

    #[test]
    fn fahrenheit_must_be_said_and_is_converted() {
        let read = settings(SETTINGS).unwrap().rows("when,t,no3\n2026-03-09 09:30,77.0,44.268\n").unwrap();
        // 77 °F is 25 °C by definition; NO3-N × 4.4268 = NO3 (DOMAIN section 6).
        assert_eq!(read.rows[0].members["temperature_c"], json!(25.0));
        assert!((read.rows[0].members["nitrate_mg_l_n"].as_f64().unwrap() - 10.0).abs() < 1e-3, "{:?}", read.rows);
        let said = settings(&SETTINGS.replace("unit = \"F\", ", "")).unwrap_err();
        assert!(said.contains("\"t\"") && said.contains("without its unit"), "{said}");
        let said = settings(&SETTINGS.replace(", basis = \"as ion\"", "")).unwrap_err();
        assert!(said.contains("\"no3\"") && said.contains("basis"), "{said}");
    }

    #[test]
    fn gaps_and_clock_jumps_are_named_and_none_is_used_in_silence() {
        let text =
            "when,t,no3\n2026-01-09 09:30,70,\n2026-01-09 19:30,71,\n2026-01-09 18:30,72,\n2026-01-09 19:30,71,\n2026-01-09 20:00,,\n";
        let read = settings(SETTINGS).unwrap().rows(text).unwrap();
        assert_eq!(read.rows.iter().map(|row| row.row).collect::<Vec<_>>(), [1, 2]);
        assert_eq!(read.told.len(), 3, "{:?}", read.told);
        assert!(read.told[0].starts_with("row 2: nothing for 10.0 hours"), "{:?}", read.told);
        assert!(read.told[1].starts_with("row 3: the clock jumps back 1.0 hours") && read.told[2].starts_with("row 4: the same time"));
    }

    #[test]
    fn wrong_rows_are_named_and_nothing_is_taken() {
        // Lisbon's clock went back on 25 October 2026 at 01:00 UTC and forward on 29 March (IANA).
        let text = "when,t,no3\n2026-10-25 01:30,70,\n2026-03-29 01:30,70,\n2026-03-30 01:30,seventy,\n";
        let said = settings(SETTINGS).unwrap().rows(text).unwrap_err().to_string();
        assert!(said.contains("row 1: column \"when\": 2026-10-25 01:30 happened twice"), "{said}");
        assert!(said.contains("row 2:") && said.contains("never was") && said.contains("row 3: column \"t\": \"seventy\""), "{said}");
        assert!(settings(SETTINGS).unwrap().rows("when,t\n").unwrap_err().to_string().contains("no column \"no3\""));
    }

    #[test]
    fn thinning_is_stated() {
        let thin = SETTINGS.replace("gap_hours = 6", "gap_hours = 6\n        thin_minutes = 60");
        let text = "when,t,no3\n2026-01-09 09:00,70,\n2026-01-09 09:30,70,\n2026-01-09 10:00,71,\n";
        let read = settings(&thin).unwrap().rows(text).unwrap();
        assert_eq!(read.rows.len(), 2);
        assert!(read.told[0].contains("one reading in 60 minutes: 1 rows"), "{:?}", read.told);
    }
}
