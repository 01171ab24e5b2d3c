//! From durations at temperatures to a rate with its uncertainty. Grades are always named: fitted
//! (two temperatures or more), single (one source: good only inside its temperatures), house
//! (entered as local experience). Species are never pooled: hand in the points of one.

use serde::Serialize;

use super::no_forecast::NoForecast;
use super::normal::THREE;
use crate::incubation::two_point::{Q10_PLAUSIBLE_MAX, Q10_PLAUSIBLE_MIN};
use crate::incubation::{Rate, TEMPERATURE_MAX_C, TEMPERATURE_MIN_C};

/// Points need to lie so far apart before a slope is taken from them, in °C (a convention of this
/// project).
pub const APART_C_MIN: f64 = 1.0;

/// A point that states no range of temperatures holds for so much around it, in °C (a convention
/// of this project).
pub const AROUND_C: f64 = 0.5;

/// Coefficient of variation where no point states a spread: 8 % (Rossi 2015, 120 ± 10 d).
pub const CV_DEFAULT: f64 = 0.08;

/// Smallest coefficient of variation of a fitted law: above the 3.1 to 3.3 % of steady temperature
/// (Castro 1988, Payne 2012), for no nursery's is steady (a convention of this project).
pub const CV_FLOOR_FITTED: f64 = 0.05;

/// Smallest coefficient of variation of a single source (DOMAIN section 3, a convention of this
/// project).
pub const CV_FLOOR_SINGLE: f64 = 0.15;

/// Smallest coefficient of variation of a house entry (a convention of this project).
pub const CV_FLOOR_HOUSE: f64 = 0.10;

/// How many deviations an entered range of days spans: its ends are taken for 5 and 95 %.
const RANGE_DEVIATIONS: f64 = 2.0 * 1.644_853_626_951_472_2;

/// On what a law rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Two temperatures or more.
    Fitted,
    /// One temperature: inside its stated range only.
    Single,
    /// Days and temperatures entered as local experience.
    House,
}

impl Grade {
    /// Its smallest coefficient of variation.
    #[must_use]
    pub fn cv_floor(self) -> f64 {
        match self {
            Grade::Fitted => CV_FLOOR_FITTED,
            Grade::Single => CV_FLOOR_SINGLE,
            Grade::House => CV_FLOOR_HOUSE,
        }
    }
}

/// How long development took at a temperature.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// The temperature, in °C.
    pub temperature_c: f64,
    /// Coldest stated, in °C.
    pub low_c: Option<f64>,
    /// Warmest stated, in °C.
    pub high_c: Option<f64>,
    /// Mean duration, in days.
    pub days: f64,
    /// Standard deviation between individuals, in days.
    pub sd_days: Option<f64>,
    /// Individuals behind it; not stated counts as one.
    pub n: Option<u32>,
}

/// A rate of development with its uncertainty. `D(T) = reference_days * exp(-slope (T - reference_c))`,
/// or, where a source states a thermal sum, `D(T) = K/(T - T0)`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Law {
    /// On what it rests.
    pub grade: Grade,
    /// Points used.
    pub points: usize,
    /// Individuals behind them, one for each point that states no number.
    pub n: u32,
    /// The temperature at which level and slope are told apart, in °C.
    pub reference_c: f64,
    /// Days at it.
    pub reference_days: f64,
    /// How much faster per °C, as a logarithm; 0 where one temperature says nothing of it.
    pub slope_per_c: f64,
    /// Standard error of the slope.
    pub se_slope_per_c: f64,
    /// Standard error of the logarithm of the days at the reference.
    pub se_level: f64,
    /// Coefficient of variation between individuals, not below the floor of the grade.
    pub cv: f64,
    /// Of a thermal sum: the temperature at which development stands still, in °C; slopes are 0 then.
    pub t0_c: Option<f64>,
    /// Coldest temperature that it holds for, in °C.
    pub low_c: f64,
    /// Warmest, in °C.
    pub high_c: f64,
}

/// Sums of a weighted line `ln D = level - slope (T - mean)`.
struct Weighted {
    mean_c: f64,
    level: f64,
    slope: f64,
    weight: f64,
    weight_xx: f64,
}

impl Law {
    /// A law from durations at temperatures: fitted if they lie [`APART_C_MIN`] apart or more,
    /// single otherwise. Points are weighed by how many individuals are behind them.
    ///
    /// Fails with [`NoForecast::NoData`], [`NoForecast::Unusable`], and with
    /// [`NoForecast::Implausible`] where the points give a change with temperature that is hardly
    /// believed.
    pub fn of(points: &[Point]) -> Result<Law, NoForecast> {
        points.iter().try_for_each(Point::checked)?;
        if points.is_empty() {
            return Err(NoForecast::NoData);
        }
        let (coldest, warmest) = span(points.iter().map(|point| point.temperature_c));
        let grade = if warmest - coldest >= APART_C_MIN { Grade::Fitted } else { Grade::Single };
        let stated = published_cv(points).unwrap_or(CV_DEFAULT);
        let first = weighted(points, stated, grade);
        let cv = pooled_cv(points, &first, grade, stated).max(grade.cv_floor());
        let line = weighted(points, cv, grade);
        let q10 = libm::exp(10.0 * line.slope);
        if grade == Grade::Fitted && !(Q10_PLAUSIBLE_MIN..=Q10_PLAUSIBLE_MAX).contains(&q10) {
            return Err(NoForecast::Implausible { q10 });
        }
        let (low_c, _) = span(points.iter().map(Point::lowest));
        let (_, high_c) = span(points.iter().map(Point::highest));
        let se_slope_per_c = if grade == Grade::Fitted { 1.0 / line.weight_xx.sqrt() } else { 0.0 };
        Ok(Law {
            grade,
            points: points.len(),
            n: points.iter().map(|point| point.n.unwrap_or(1)).sum(),
            reference_c: line.mean_c,
            reference_days: libm::exp(line.level),
            slope_per_c: line.slope,
            se_slope_per_c,
            se_level: 1.0 / line.weight.sqrt(),
            cv,
            t0_c: None,
            low_c,
            high_c,
        })
    }

    /// A law from a range of days that holds between two temperatures, as a house enters it: the
    /// ends are taken for 5 and 95 %, and the temperature within the range for nothing.
    ///
    /// Fails with [`NoForecast::Unusable`].
    pub fn from_range(grade: Grade, days: (f64, f64), temperatures_c: (f64, f64)) -> Result<Law, NoForecast> {
        is("days_low", days.0, days.0.is_finite() && days.0 > 0.0, "days above 0")?;
        is("days_high", days.1, days.1.is_finite() && days.1 >= days.0, "days not below days_low")?;
        is("temperature_c_low", temperatures_c.0, is_water(temperatures_c.0), "a temperature of water in °C")?;
        let not_below = is_water(temperatures_c.1) && temperatures_c.1 >= temperatures_c.0;
        is("temperature_c_high", temperatures_c.1, not_below, "a temperature not below temperature_c_low")?;
        let (low, high) = (libm::log(days.0), libm::log(days.1));
        let sigma = (high - low) / RANGE_DEVIATIONS;
        Ok(Law {
            grade,
            points: 1,
            n: 0,
            reference_c: (temperatures_c.0 + temperatures_c.1) / 2.0,
            reference_days: libm::exp((low + high) / 2.0),
            slope_per_c: 0.0,
            se_slope_per_c: 0.0,
            se_level: 0.0,
            cv: libm::expm1(sigma * sigma).sqrt().max(grade.cv_floor()),
            t0_c: None,
            low_c: temperatures_c.0,
            high_c: temperatures_c.1,
        })
    }

    /// A law from a thermal sum as a source states it, `1/D = (T - T0)/K`, between two temperatures:
    /// fitted where these lie [`APART_C_MIN`] apart or more, single otherwise. The source's standard
    /// errors are hardly ever stated; the spread is `cv` where it is, else [`CV_DEFAULT`].
    ///
    /// Fails with [`NoForecast::Unusable`].
    pub fn thermal_sum(t0_c: f64, k_degree_days: f64, temperatures_c: (f64, f64), cv: Option<f64>) -> Result<Law, NoForecast> {
        is("t0_c", t0_c, is_water(t0_c), "a temperature of water in °C, between -5 and 50")?;
        is("k_degree_days", k_degree_days, k_degree_days.is_finite() && k_degree_days > 0.0, "degree-days above 0")?;
        let above = is_water(temperatures_c.0) && temperatures_c.0 > t0_c;
        is("temperature_c_low", temperatures_c.0, above, "a temperature of water in °C above t0_c")?;
        let not_below = is_water(temperatures_c.1) && temperatures_c.1 >= temperatures_c.0;
        is("temperature_c_high", temperatures_c.1, not_below, "a temperature not below temperature_c_low")?;
        let stated = cv.unwrap_or(CV_DEFAULT);
        is("cv", stated, stated.is_finite() && stated > 0.0, "a part of the days above 0")?;
        let grade = if temperatures_c.1 - temperatures_c.0 >= APART_C_MIN { Grade::Fitted } else { Grade::Single };
        let reference_c = (temperatures_c.0 + temperatures_c.1) / 2.0;
        Ok(Law {
            grade,
            points: 1,
            n: 0,
            reference_c,
            reference_days: k_degree_days / (reference_c - t0_c),
            slope_per_c: 0.0,
            se_slope_per_c: 0.0,
            se_level: 0.0,
            cv: stated.max(grade.cv_floor()),
            t0_c: Some(t0_c),
            low_c: temperatures_c.0,
            high_c: temperatures_c.1,
        })
    }

    /// Of a thermal sum, `K` in d °C.
    #[must_use]
    pub fn k_degree_days(&self) -> Option<f64> {
        self.t0_c.map(|t0_c| self.reference_days * (self.reference_c - t0_c))
    }

    /// How many times faster 10 °C warmer; nothing where one temperature says nothing of it.
    #[must_use]
    pub fn q10(&self) -> Option<f64> {
        (self.grade == Grade::Fitted && self.t0_c.is_none()).then(|| libm::exp(10.0 * self.slope_per_c))
    }

    /// Median days at a steady temperature; without end at or below the threshold of a thermal sum.
    #[must_use]
    pub fn days_at(&self, temperature_c: f64) -> f64 {
        if let (Some(t0_c), Some(k)) = (self.t0_c, self.k_degree_days()) {
            return if temperature_c > t0_c { k / (temperature_c - t0_c) } else { f64::INFINITY };
        }
        self.reference_days * libm::exp(-self.slope_per_c * (temperature_c - self.reference_c))
    }

    /// Deviation of the logarithm of the development that one individual needs: between
    /// individuals, and of the level.
    #[must_use]
    pub fn sigma(&self) -> f64 {
        (libm::log1p(self.cv * self.cv) + self.se_level * self.se_level).sqrt()
    }

    /// The rates to integrate over and their weights: one, or three slopes.
    #[must_use]
    pub fn rates(&self) -> Vec<(Rate, f64)> {
        if let (Some(t0_c), Some(k_degree_days)) = (self.t0_c, self.k_degree_days()) {
            return vec![(Rate::ThermalSum { t0_c, k_degree_days }, 1.0)];
        }
        let rate = |slope: f64| Rate::Q10 {
            reference_c: self.reference_c,
            reference_days: self.reference_days,
            q10: libm::exp(10.0 * slope.max(0.0)),
        };
        match self.se_slope_per_c > 0.0 {
            false => vec![(rate(self.slope_per_c), 1.0)],
            true => THREE.iter().map(|(z, weight)| (rate(self.slope_per_c + z * self.se_slope_per_c), *weight)).collect(),
        }
    }
}

impl Point {
    fn checked(&self) -> Result<(), NoForecast> {
        for (field, found) in
            [("temperature_c", Some(self.temperature_c)), ("temperature_c_low", self.low_c), ("temperature_c_high", self.high_c)]
        {
            found.map_or(Ok(()), |found| is(field, found, is_water(found), "a temperature of water in °C, between -5 and 50"))?;
        }
        is("days", self.days, self.days.is_finite() && self.days > 0.0, "days above 0")?;
        let spread = self.sd_days.unwrap_or_default();
        is("sd_days", spread, spread.is_finite() && spread >= 0.0, "days, 0 or more")
    }

    fn lowest(&self) -> f64 {
        self.low_c.unwrap_or(self.temperature_c - if self.high_c.is_none() { AROUND_C } else { 0.0 }).min(self.temperature_c)
    }

    fn highest(&self) -> f64 {
        self.high_c.unwrap_or(self.temperature_c + if self.low_c.is_none() { AROUND_C } else { 0.0 }).max(self.temperature_c)
    }

    fn count(&self) -> f64 {
        f64::from(self.n.unwrap_or(1).max(1))
    }
}

fn is(field: &'static str, found: f64, sound: bool, give: &'static str) -> Result<(), NoForecast> {
    if sound { Ok(()) } else { Err(NoForecast::Unusable { field, found, give }) }
}

fn is_water(temperature_c: f64) -> bool {
    (TEMPERATURE_MIN_C..=TEMPERATURE_MAX_C).contains(&temperature_c)
}

fn span(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
}

/// Coefficient of variation that the points state, pooled by their degrees of freedom.
fn published_cv(points: &[Point]) -> Option<f64> {
    let stated = points.iter().filter_map(|point| Some((point.sd_days? / point.days, (point.count() - 1.0).max(1.0))));
    let (sum, weight) = stated.fold((0.0, 0.0), |(sum, weight), (cv, df)| (sum + df * cv * cv, weight + df));
    (weight > 0.0).then(|| (sum / weight).sqrt())
}

/// The same with what single individuals say by how they scatter about the line.
fn pooled_cv(points: &[Point], line: &Weighted, grade: Grade, stated: f64) -> f64 {
    let singles: Vec<f64> = points.iter().filter(|point| point.n == Some(1)).map(|point| libm::log(point.days) - line.at(point)).collect();
    let used = if grade == Grade::Fitted { 2.0 } else { 1.0 };
    let df = singles.len() as f64 - used;
    if df < 1.0 {
        return stated;
    }
    let scatter: f64 = singles.iter().map(|residual| residual * residual).sum();
    let published = points.iter().filter(|point| point.sd_days.is_some()).map(|point| (point.count() - 1.0).max(1.0)).sum::<f64>();
    ((stated * stated * published + scatter) / (published + df)).sqrt()
}

fn weighted(points: &[Point], cv: f64, grade: Grade) -> Weighted {
    let weights: Vec<f64> = points.iter().map(|point| point.count() / (cv * cv)).collect();
    let weight: f64 = weights.iter().sum();
    let mean = |of: fn(&Point) -> f64| points.iter().zip(&weights).map(|(point, weight)| weight * of(point)).sum::<f64>() / weight;
    let (mean_c, level) = (mean(|point| point.temperature_c), mean(|point| libm::log(point.days)));
    let sums = points.iter().zip(&weights).map(|(point, weight)| {
        let away = point.temperature_c - mean_c;
        (weight * away * away, weight * away * (libm::log(point.days) - level))
    });
    let (weight_xx, weight_xy) = sums.fold((0.0, 0.0), |(xx, xy), (x, y)| (xx + x, xy + y));
    let slope = if grade == Grade::Fitted { -weight_xy / weight_xx } else { 0.0 };
    Weighted { mean_c, level, slope, weight, weight_xx }
}

impl Weighted {
    /// `ln D` of a point by the line.
    fn at(&self, point: &Point) -> f64 {
        self.level - self.slope * (point.temperature_c - self.mean_c)
    }
}
