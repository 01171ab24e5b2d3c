//! Which bands hold for a water: those of the house rules, and where they are silent common
//! practice. The nearest word counts: of a tank and species, of a tank, of a species, of the
//! kind of water, of all.

use crate::domain::state::{Band, Quantity, WaterBand};
use crate::domain::told::Told;
use crate::domain::view::View;
use selachron_schemas::names::Subject;

/// What stands in where the house rules set no band, in DOMAIN's own words (section 6): common
/// practice, no source. Nitrate has none; the institution sets it.
const COMMON: &str = "common practice, no source";

/// The defaults by kind of water, °C.
const TEMPERATURES_C: [(&str, f64, f64); 3] = [("tropical", 23.0, 27.0), ("temperate", 10.0, 17.0), ("cold", 4.0, 10.0)];

/// The others: not below, not above.
const OTHERS: [(Quantity, Option<f64>, Option<f64>); 6] = [
    (Quantity::TemperatureChangeCPerDay, None, Some(1.0)),
    (Quantity::SalinityPsu, Some(30.0), Some(36.0)),
    (Quantity::Ph, Some(7.8), Some(8.3)),
    (Quantity::UnIonisedAmmoniaMgLN, None, Some(0.02)),
    (Quantity::NitriteMgLN, None, Some(0.1)),
    (Quantity::OxygenPercent, Some(80.0), None),
];

/// The bands that hold for one water.
pub(in crate::domain) struct Bands {
    /// In the order of the quantities, the widest reach first.
    pub all: Vec<Band>,
}

impl Bands {
    /// Those of one quantity.
    pub fn of(&self, quantity: Quantity) -> impl Iterator<Item = &Band> {
        self.all.iter().filter(move |band| band.told.quantity == quantity)
    }

    /// The one that holds for a case of that species in that tank.
    pub fn nearest(&self, quantity: Quantity, tank: &Subject, species: Option<&Subject>) -> Option<&Band> {
        let fits = |band: &&Band| {
            let (of_tank, of_species) = (&band.told.tank, &band.told.species);
            of_tank.as_ref().is_none_or(|of| of == tank) && of_species.as_ref().is_none_or(|of| Some(of) == species)
        };
        self.of(quantity).filter(fits).max_by_key(|band| reach(&band.told))
    }
}

/// How near a word is: the nearer counts.
fn reach(band: &WaterBand) -> u8 {
    4 * u8::from(band.tank.is_some()) + 2 * u8::from(band.species.is_some()) + u8::from(band.water.is_some())
}

impl View<'_> {
    /// The bands that hold for a system or a tank; `None` if no note that stands sets it up.
    pub(in crate::domain) fn bands_of(&self, water: &Subject) -> Option<Bands> {
        let kind = self.kind_of_water(water)?;
        let tanks = if water.noun() == "tank" { vec![water.clone()] } else { self.tanks_of(water) };
        let mut all: Vec<Band> = Vec::new();
        let holds = |set: &&WaterBand| {
            let for_tank = set.tank.as_ref().is_none_or(|tank| tanks.contains(tank));
            for_tank && set.water.as_ref().is_none_or(|of| Some(of) == kind.as_ref())
        };
        for set in self.policy().water_bands.iter().filter(holds) {
            let basis = set.source.clone().unwrap_or_else(|| "the house rules".to_owned());
            all.push(Band { told: set.clone(), basis, default: false });
        }
        // Of two that reach alike the nearer word about the water hides the other.
        let all_of = |band: &Band| band.told.tank.is_none() && band.told.species.is_none();
        let hidden: Vec<Quantity> = all.iter().filter(|band| all_of(band) && band.told.water.is_some()).map(|b| b.told.quantity).collect();
        all.retain(|band| !(all_of(band) && band.told.water.is_none() && hidden.contains(&band.told.quantity)));
        let set: Vec<Quantity> = all.iter().filter(|band| all_of(band)).map(|band| band.told.quantity).collect();
        all.extend(defaults(kind.as_deref()).into_iter().filter(|band| !set.contains(&band.told.quantity)));
        all.sort_by_key(|band| (band.told.quantity, reach(&band.told), band.told.tank.clone(), band.told.species.clone()));
        Some(Bands { all })
    }

    /// `tropical`, `temperate` or `cold`; a tank has its system's, or nobody says.
    fn kind_of_water(&self, water: &Subject) -> Option<Option<String>> {
        let facts = self.creations(water);
        match facts.first()?.told() {
            Told::SystemSetUp(told) => Some(Some(told.water.clone())),
            _ => Some(self.system_at(water, self.as_of()).and_then(|system| self.kind_of_water(&system).flatten())),
        }
    }
}

fn defaults(kind: Option<&str>) -> Vec<Band> {
    let of = |quantity, low, high, water: Option<&str>| Band {
        told: WaterBand { quantity, low, high, water: water.map(str::to_owned), tank: None, species: None, source: None },
        basis: COMMON.to_owned(),
        default: true,
    };
    let temperature = TEMPERATURES_C.iter().filter(|(water, _, _)| Some(*water) == kind);
    let temperature = temperature.map(|(water, low, high)| of(Quantity::TemperatureC, Some(*low), Some(*high), Some(water)));
    temperature.chain(OTHERS.iter().map(|(quantity, low, high)| of(*quantity, *low, *high, None))).collect()
}
