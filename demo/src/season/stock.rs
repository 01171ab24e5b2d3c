//! The three species of the invented nursery, with the values that published abstracts give.
//! Where a value has no such source, the line says so.

use selachron_schemas::published::incubation_points;
use serde_json::{Value, json};

/// A species.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stock {
    /// *Chiloscyllium punctatum*.
    Bamboo,
    /// *Hemiscyllium ocellatum*.
    Epaulette,
    /// *Rostroraja eglanteria*.
    Skate,
}

/// All of them.
pub const STOCKS: [Stock; 3] = [Stock::Bamboo, Stock::Epaulette, Stock::Skate];

impl Stock {
    /// How labels begin.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Bamboo => "bamboo",
            Self::Epaulette => "epaulette",
            Self::Skate => "skate",
        }
    }

    /// Mean and spread of the days from laying to hatching in this nursery's water. Bamboo: 153 d
    /// at 21-25 °C (Harahush 2007), taken at the warm end. Epaulette: 140.3 ± 4.6 d at
    /// 24.4-25.5 °C (Payne 2012). Skate: 94 d early in a season falling to 77 d late in it
    /// (Luer & Gilbert 1985), so the mean depends on `late_in_season`, from 0 to 1.
    #[must_use]
    pub fn incubation_days(self, late_in_season: f64) -> (f64, f64) {
        match self {
            Self::Bamboo => (150.0, 4.8),
            Self::Epaulette => (140.3, 4.6),
            Self::Skate => (94.0 - 17.0 * late_in_season, 1.5),
        }
    }

    /// Days between two pairs: bamboo as in *C. plagiosum*, a pair every 6-7 d (Wyffels 2021);
    /// the others invented, no source.
    #[must_use]
    pub fn days_between_pairs(self) -> f64 {
        match self {
            Self::Bamboo => 6.5,
            Self::Epaulette => 8.0,
            Self::Skate => 4.5,
        }
    }

    /// Fraction of incubation at which the case opens to the water: 0.23 in *C. punctatum*
    /// (Harahush 2007), 0.31 in *R. eglanteria* (Libby 1959 in Evans 1981); the epaulette's is
    /// invented, no source.
    #[must_use]
    pub fn slits_open_fraction(self) -> f64 {
        match self {
            Self::Bamboo => 0.23,
            Self::Epaulette => 0.30,
            Self::Skate => 0.31,
        }
    }

    /// The day by which an embryo should be seen: 0.25 of the mean incubation, the house's rule.
    #[must_use]
    pub fn first_embryo_day(self) -> i64 {
        match self {
            Self::Bamboo => 38,
            Self::Epaulette => 35,
            Self::Skate => 22,
        }
    }

    /// How often a light does not show the inside (invented; skates' cases are dark).
    #[must_use]
    pub fn dark_share(self) -> f64 {
        if self == Self::Skate { 0.30 } else { 0.05 }
    }

    /// Whether its cases and young live in the warm system.
    #[must_use]
    pub fn is_warm(self) -> bool {
        self != Self::Skate
    }

    /// Length in centimetres, on the species' basis, at an age in days. Epaulette: 16.2 cm at
    /// hatch (Payne 2012), growth invented. Bamboo: the curve of *C. plagiosum* females (Chen
    /// 2007), a related species. Skate: invented, no source.
    #[must_use]
    pub fn length_cm(self, age_days: f64) -> f64 {
        match self {
            Self::Bamboo => 95.9 * (1.0 - (-0.205 * (age_days / 365.25 + 0.95)).exp()),
            Self::Epaulette => 16.2 + 0.030 * age_days,
            Self::Skate => 9.3 + 0.026 * age_days,
        }
    }

    /// Mass in grams at a length. Epaulette: 19.9 g at 16.2 cm (Payne 2012), growing as the
    /// cube of length; the others invented, no source.
    #[must_use]
    pub fn mass_g(self, length_cm: f64) -> f64 {
        let cube = length_cm.powi(3);
        if self == Self::Skate { 0.0141 * cube } else { 0.00468 * cube }
    }

    /// The word for what its length spans.
    #[must_use]
    pub fn length_basis(self) -> &'static str {
        if self == Self::Skate { "disc width" } else { "total" }
    }

    /// `data` of its `species.listed`. A single source's window is widened to 15 % on either
    /// side of its mean, a convention of this project.
    #[must_use]
    pub fn listing(self) -> Value {
        let mut listing = self.described();
        let name = listing["scientific_name"].as_str().unwrap_or_default().to_owned();
        listing["incubation_points"] = Value::Array(incubation_points(&name));
        listing
    }

    fn described(self) -> Value {
        match self {
            Self::Bamboo => json!({
                "scientific_name": "Chiloscyllium punctatum", "common_name": "brownbanded bamboo shark", "length_basis": "total",
                "case_shape": "fibres", "embryos_per_case_max": 2,
                "incubation": window(130.0, 176.0, 21.0, 25.0, "Harahush, Fischer & Collin 2007 J Fish Biol 71:1007-1022: 153 d, widened by 15 %"),
                "first_embryo_seen_day": self.first_embryo_day(), "not_seen_to_eat_days": 21,
                "remark": "First embryo by 0.25 of incubation, after which another person looks; Harahush saw the first on day 18."
            }),
            Self::Epaulette => json!({
                "scientific_name": "Hemiscyllium ocellatum", "common_name": "epaulette shark", "length_basis": "total",
                "case_shape": "plain", "embryos_per_case_max": 1,
                "incubation": window(119.0, 161.0, 24.4, 25.5, "Payne 2012 Zoo Biol 31:718-724: 140.3 d, n 7, widened by 15 %"),
                "first_embryo_seen_day": self.first_embryo_day(), "not_seen_to_eat_days": 21
            }),
            Self::Skate => json!({
                "scientific_name": "Rostroraja eglanteria", "common_name": "clearnose skate", "length_basis": "disc width",
                "case_shape": "horned", "embryos_per_case_max": 1,
                "incubation": window(73.0, 98.0, 20.0, 22.0, "Luer & Gilbert 1985 Environ Biol Fish 13:161-171: 77 to 94 d over one season"),
                "first_embryo_seen_day": self.first_embryo_day(), "not_seen_to_eat_days": 14
            }),
        }
    }
}

fn window(days_low: f64, days_high: f64, temperature_c_low: f64, temperature_c_high: f64, source: &str) -> Value {
    json!({
        "grade": "single", "days_low": days_low, "days_high": days_high,
        "temperature_c_low": temperature_c_low, "temperature_c_high": temperature_c_high, "source": source
    })
}
