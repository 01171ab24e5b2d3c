//! When development that began at an uncertain time will be complete: a probability over days,
//! never a date. Bayes on a grid; the same input gives the same digits.
//!
//! Unknown are the moment at which development began (uniform over a window), a factor of the
//! individual on the development needed (log-normal, median 1), the slope of the rate where it was
//! fitted to several temperatures, and the temperature after the last reading. Known are looks:
//! bands of the fraction developed, slits seen closed or open, and "not complete by then". The page
//! with the formula and its measured calibration is `FORECAST.md` beside the package.
//!
//! Read in this order:
//! * [`no_forecast`]: why there is no window;
//! * [`normal`]: the distribution that everything rests on;
//! * [`law`]: from points at temperatures to a rate with its uncertainty;
//! * [`bands`]: what a look says of the fraction developed;
//! * [`track`]: one water's readings, summed up once for everybody in it;
//! * [`course`]: from one water to another;
//! * [`grid`]: the unknowns, weighed by what was seen;
//! * [`window`]: the days, the fraction, and what they rest on.

pub mod no_forecast;

pub mod normal;

pub mod law;

pub mod bands;

pub mod track;

pub mod course;

pub mod grid;

pub mod window;

pub use bands::{Band, Bands};
pub use course::Stay;
pub use law::{Grade, Law, Point};
pub use no_forecast::NoForecast;
pub use track::{Settings, Track};
pub use window::{Case, Development, Fraction, Look, Sighting, Warmth, Window, develop, effective_c, warmth};
