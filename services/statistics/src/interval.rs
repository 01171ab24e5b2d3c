//! Ages known only to lie between two looks.
//!
//! A case with looks on days 14 and 21 that was alive at the first and dead at the second died in
//! `(14, 21]`, and nobody knows when. The nonparametric maximum likelihood estimate (Peto 1973
//! Appl Stat 22:86; Turnbull 1976 JRSSB 38:290) puts mass on the *innermost* stretches only: those
//! that begin where some case's does and end where some case's does, with no end between. How the
//! mass lies inside a stretch the data do not say; so survival is read as a [`Band`], never as a
//! line, and no day is invented.
//!
//! What it is not for: cases that come under observation late (the likelihood divided by the chance
//! of being alive at entry need not have a maximum; condition on a landmark age instead), and looks
//! that were prompted by the state of the case (the looks must not know the answer). Standard errors
//! of Greenwood on days filled in ignore what is not known; use [`bootstrap`](bootstrap()).
//!
//! Read in this order: [`rows`], [`innermost`], [`npmle`](mod@npmle), [`competing`], [`band`],
//! [`bootstrap`](mod@bootstrap); `design`, `em_icm` and `newton` find the maximum.

pub mod rows;

pub mod innermost;

mod design;

mod newton;

mod em_icm;

pub mod band;

pub mod npmle;

pub mod competing;

pub mod bootstrap;

pub use band::Band;
pub use bootstrap::{BootstrapBand, BootstrapPlan, bootstrap};
pub use competing::{CompetingNpmle, npmle_competing};
pub use innermost::Stretch;
pub use npmle::{Npmle, npmle};
pub use rows::{BetweenLooks, CauseBetweenLooks};
