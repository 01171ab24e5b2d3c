//! The hatch ribbon: the numbers that the pages draw (`window` of each forecast, in whole days from
//! today, by the middle day).

use crate::domain::state::{EggForecast, HatchWindow, WindowStanding};
use chrono::NaiveDate;
use selachron_statistics::plot::Caption;
use selachron_statistics::plot::ribbon::{Days, Leaf, ribbon};

/// Windows of cases as they stand on a day.
#[must_use]
pub fn windows(forecasts: &[EggForecast], today: NaiveDate) -> String {
    let mut sorted: Vec<&EggForecast> = forecasts.iter().collect();
    sorted.sort_by_key(|forecast| (forecast.window.is_none(), forecast.window.map(|window| window.p50)));
    let leaves: Vec<Leaf> = sorted.into_iter().map(|forecast| leaf(forecast, today)).collect();
    let caption = Caption { id: "forecast".to_owned(), title: "When cases may hatch".to_owned(), finding: finding(forecasts, today) };
    ribbon(&caption, &leaves, "today")
}

fn leaf(forecast: &EggForecast, today: NaiveDate) -> Leaf {
    let day = |day: NaiveDate| (day - today).num_days() as f64;
    let grade = forecast.rate.as_ref().map_or("", |rate| rate.grade).to_owned();
    let window = forecast.window.map(|window| {
        let days = Days { p05: day(window.p05), p25: day(window.p25), p50: day(window.p50), p75: day(window.p75), p95: day(window.p95) };
        (days, grade)
    });
    let beyond = if forecast.expected.is_some() { "waited beyond the window" } else { "no forecast" };
    let reason = forecast.no_forecast.as_ref().map_or(beyond, |none| none.reason);
    Leaf { label: forecast.label.clone(), window: window.ok_or_else(|| reason.to_owned()) }
}

fn finding(forecasts: &[EggForecast], today: NaiveDate) -> String {
    let with: Vec<(&EggForecast, HatchWindow)> = forecasts.iter().filter_map(|one| Some((one, one.window?))).collect();
    let next = with.iter().min_by_key(|(_, window)| window.p50).map_or_else(String::new, |(one, window)| {
        format!(" {} is next: {} to {} (5 % to 95 %), middle {}.", one.label, window.p05, window.p95, window.p50)
    });
    let past: Vec<&str> = forecasts.iter().filter(|one| one.standing == WindowStanding::Past).map(|one| one.label.as_str()).collect();
    let past = if past.is_empty() { String::new() } else { format!(" Past the window: {}.", past.join(", ")) };
    let without = forecasts.len() - with.len();
    format!(
        "On {today} {} of {} cases have a window; of {without} it is not known.{next}{past} A window is no date.",
        with.len(),
        forecasts.len()
    )
}
