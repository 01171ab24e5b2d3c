//! Eggs, clutches, animals, groups, tanks, systems, species and house rules at an instant V when S notes are known
//! (F20, F21). Words are those of `schemas/v1`; every fact names the note it rests on.

mod words;

mod absence;

mod assessment;

mod authorisation;

mod clutch;

mod life;

mod egg;

mod forecast;

mod animal;

mod group;

mod housing;

mod noted;

mod care;

mod adults;

mod movement;

mod permit;

mod work;

mod water;

mod trays;

mod sheet;

pub use absence::*;
pub use adults::*;
pub use animal::*;
pub use assessment::*;
pub use authorisation::*;
pub use care::*;
pub use clutch::*;
pub use egg::*;
pub use forecast::*;
pub use group::*;
pub use housing::*;
pub use life::*;
pub use movement::*;
pub use noted::{Count, Noted, Thing};
pub use permit::*;
pub use sheet::*;
pub use trays::*;
pub use water::*;
pub use words::*;
pub use work::*;
