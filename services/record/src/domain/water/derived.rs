//! What follows from a reading: un-ionised ammonia, oxygen saturation, density. What the reading
//! itself lacks is taken from the newest earlier reading of the same water, if that is not too old;
//! the notes used are named. Formulas and their sources: `selachron_statistics::water`.

use super::Sample;
use crate::domain::state::{Derived, EventId, Figure, WaterReading};
use selachron_schemas::time::Instant;
use selachron_statistics::water::{
    Ammonia, PhScale, Temperature, density_kg_m3, oxygen_percent, temperature::IPTS68_PER_ITS90, un_ionised_ammonia,
};

/// A value read earlier in the same water.
type Earlier<T> = Option<(Instant, EventId, T)>;

/// The newest of what formulas need.
#[derive(Default)]
struct Newest {
    temperature: Earlier<f64>,
    salinity: Earlier<f64>,
    ph: Earlier<(f64, PhScale)>,
    pressure: Earlier<f64>,
}

/// Values that a formula takes, with the notes they come from.
struct Taken {
    now: Instant,
    oldest_ms: i64,
    events: Vec<EventId>,
}

impl Taken {
    fn take<T: Copy>(&mut self, name: &str, value: &Earlier<T>) -> Result<T, String> {
        let fresh = value.filter(|(time, _, _)| self.now.0 - time.0 <= self.oldest_ms);
        let (_, event, value) = fresh.ok_or_else(|| format!("{name} was not read here recently enough"))?;
        self.events.push(event);
        Ok(value)
    }
}

/// Works out what follows from each reading; `oldest_ms` is how old a value read earlier may be.
pub(super) fn derive(samples: &mut [Sample], oldest_ms: i64) {
    let mut newest = Newest::default();
    for sample in samples {
        newest.learn(sample);
        let now = sample.time;
        let taken = || Taken { now, oldest_ms, events: Vec::new() };
        let reading = &sample.reading;
        let figure = |own: &dyn Fn(&mut Taken) -> Result<Figure, String>| {
            let mut taken = taken();
            let mut figure = own(&mut taken).unwrap_or_else(|why_not| Figure { why_not: Some(why_not), ..nothing() });
            taken.events.retain(|event| *event != sample.event);
            taken.events.sort_unstable();
            taken.events.dedup();
            figure.events = taken.events;
            figure
        };
        sample.derived = Derived {
            un_ionised_ammonia_mg_l_n: reading.ammonia_total_mg_l_n.map(|total| figure(&|taken| ammonia(total, &newest, taken))),
            oxygen_percent: reading.oxygen_mg_l.map(|read| figure(&|taken| oxygen(read, &newest, taken))),
            density_kg_m3: (reading.temperature_c.is_some() || reading.salinity_psu.is_some())
                .then(|| figure(&|taken| density(&newest, taken))),
        };
    }
}

fn nothing() -> Figure {
    Figure { value: None, by: None, flags: Vec::new(), why_not: None, ratio_per_tenth_ph: None, check_value: None, events: Vec::new() }
}

impl Newest {
    fn learn(&mut self, sample: &Sample) {
        let with = |value: Option<f64>| value.map(|value| (sample.time, sample.event, value));
        let reading = &sample.reading;
        self.temperature = with(t90(reading)).or(self.temperature);
        self.salinity = with(reading.salinity_psu).or(self.salinity);
        self.pressure = with(reading.pressure_hpa).or(self.pressure);
        let ph = with(reading.ph).map(|(time, event, ph)| (time, event, (ph, scale(reading.ph_scale.as_deref()))));
        self.ph = ph.or(self.ph);
    }

    fn temperature(&self, taken: &mut Taken) -> Result<Temperature, String> {
        Temperature::its90(taken.take("the temperature", &self.temperature)?).map_err(|wrong| wrong.to_string())
    }
}

/// The temperature on ITS-90.
fn t90(reading: &WaterReading) -> Option<f64> {
    let older = reading.temperature_scale.as_deref() == Some("IPTS-68");
    reading.temperature_c.map(|shown| if older { shown / IPTS68_PER_ITS90 } else { shown })
}

fn scale(word: Option<&str>) -> PhScale {
    match word {
        Some("NBS") => PhScale::Nbs,
        Some("total") => PhScale::Total,
        Some("free") => PhScale::Free,
        _ => PhScale::Unknown,
    }
}

fn word(value: &impl serde::Serialize) -> String {
    serde_json::to_value(value).ok().and_then(|value| value.as_str().map(|word| word.replace('_', " "))).unwrap_or_default()
}

fn ammonia(total: f64, newest: &Newest, taken: &mut Taken) -> Result<Figure, String> {
    let (ph, scale) = taken.take("the pH", &newest.ph)?;
    let (salinity, temperature) = (taken.take("the salinity", &newest.salinity)?, newest.temperature(taken)?);
    let told: Ammonia = un_ionised_ammonia(ph, scale, salinity, temperature).map_err(|reason| reason.to_string())?;
    Ok(Figure {
        value: Some(told.un_ionised_mg_l_n(total).map_err(|wrong| wrong.to_string())?),
        by: Some(format!("{}, pH scale {}", word(&told.form), word(&told.ph_scale))),
        flags: told.flags.iter().map(ToString::to_string).collect(),
        ratio_per_tenth_ph: Some(told.ratio_per_tenth_ph),
        check_value: told.check_fraction.map(|fraction| fraction * total),
        ..nothing()
    })
}

fn oxygen(read: f64, newest: &Newest, taken: &mut Taken) -> Result<Figure, String> {
    let pressure = taken.take("the air pressure at the tank", &newest.pressure)?;
    let (salinity, temperature) = (taken.take("the salinity", &newest.salinity)?, newest.temperature(taken)?);
    let told = oxygen_percent(read, salinity, temperature, pressure).map_err(|wrong| wrong.to_string())?;
    let flags = told.flags.iter().map(ToString::to_string).collect();
    Ok(Figure { value: Some(told.value), by: Some("Benson & Krause 1984".to_owned()), flags, ..nothing() })
}

fn density(newest: &Newest, taken: &mut Taken) -> Result<Figure, String> {
    let (salinity, temperature) = (taken.take("the salinity", &newest.salinity)?, newest.temperature(taken)?);
    let told = density_kg_m3(salinity, temperature, 0.0).map_err(|wrong| wrong.to_string())?;
    let flags = told.flags.iter().map(ToString::to_string).collect();
    Ok(Figure { value: Some(told.value), by: Some("EOS-80 at the surface".to_owned()), flags, ..nothing() })
}
