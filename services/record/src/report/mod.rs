//! What the record says when it is asked for figures: nothing here is stored, everything is computed
//! from the state at (V, S) and answers with its denominators by name.
//!
//! * [`numbers`]: rounding, in one place;
//! * [`words`]: what every report says in the same words;
//! * [`figures`]: hatch rates, fates and rearing of a cohort;
//! * [`draw`]: these as drawings;
//! * [`water`]: readings over time as a drawing;
//! * [`calendar`]: what is due as an iCalendar;
//! * [`print`](mod@print): round sheets and labels for paper;
//! * [`annual`]: the annual report as JSON;
//! * [`paper`](mod@paper): the same as something to read, in blocks;
//! * [`html`](mod@html): these as a page.

pub mod numbers;

pub mod words;

pub mod figures;

pub mod draw;

pub mod water;

pub mod calendar;

pub mod print;

pub mod annual;

pub mod paper;

pub mod html;

#[cfg(test)]
mod invented;
