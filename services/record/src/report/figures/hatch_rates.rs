//! Four hatch rates, because a rate without its denominator is worthless (DOMAIN section 8): hatched
//! out of the cases **collected**, **with yolk**, with an **embryo seen** alive, and **taken into the
//! nursery**. Cases received from elsewhere are another population and stand apart.
//!
//! A case is *settled* once it hatched, was lost, or was put down by decision. One that is missing has
//! no known end: it stands in the bounds and never among the losses. While cases are open there is no estimate, for
//! those that die early are settled first; there are the bounds within which the rate will end.

use super::fates::is_put_down_alive;
use super::{Absent, Behind, Cohort, Counted};
use crate::domain::state::{Egg, EggFate, EggOrigin, EventId, LifeState, YolkLook};
use crate::report::numbers::{self, Limits, is_none};
use chrono_tz::Tz;
use selachron_statistics::Level;
use selachron_statistics::proportion::wilson;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// How the rates are made, as every answer says.
pub const METHOD: &str = "hatched / cases, Wilson score interval 95 %, only when no case is open; while cases are open, \
    bounds from none of them to all of them hatching";

/// The four rates of a cohort.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HatchRates {
    /// Which cases are meant, by the day they came.
    pub cohort: Cohort,
    /// [`METHOD`].
    pub method: String,
    /// Of the cases found here: collected, with yolk, embryo seen, taken into the nursery.
    pub collected: Vec<Rate>,
    /// Of the cases received from elsewhere, the first line being all that arrived alive; empty
    /// when none were received.
    pub received: Vec<Rate>,
    /// Cases that arrived dead; in none of the rates.
    pub dead_on_arrival: u64,
    /// Cases of which the note that says how they came is withheld; in none of the rates.
    pub origin_withheld: u64,
    /// What stands behind the cases found here.
    pub behind: Behind,
    /// What stands behind the cases received.
    pub behind_received: Behind,
}

/// One rate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Rate {
    /// The denominator: `collected`, `with yolk`, `embryo seen`, `taken into the nursery`, or
    /// `received`.
    pub name: String,
    /// Hatched: [`Self::unaided`] and [`Self::after_opening`].
    pub x: u64,
    /// Cases of this denominator, open ones included.
    pub n: u64,
    /// Cases whose fate is open.
    pub open: u64,
    /// Hatched without help.
    pub unaided: u64,
    /// Hatched after their case was opened.
    pub after_opening: u64,
    /// Cases of which nobody could say whether they belong here; not in `n`.
    pub could_not_be_judged: u64,
    /// Cases that would belong here, but left before their end was seen, are missing, or were found
    /// empty without young; not in `n`, but in the bounds.
    pub end_not_known: u64,
    /// Of `n`: put down by decision, so that they could not hatch.
    #[serde(default, skip_serializing_if = "is_none")]
    pub put_down: u64,
    /// Of these: with an embryo that lived.
    #[serde(default, skip_serializing_if = "is_none")]
    pub put_down_alive: u64,
    /// Of `end_not_known`: missing.
    #[serde(default, skip_serializing_if = "is_none")]
    pub missing: u64,
    /// `x / n`, 4 decimals; absent while cases are open.
    pub estimate: Option<f64>,
    /// Wilson's 95 % interval, 4 decimals; absent while cases are open.
    #[schema(value_type = Option<Vec<f64>>)]
    pub wilson_95: Option<Limits>,
    /// While cases are open, or their end is not known: the rate if none of these hatched and if
    /// all did, 4 decimals.
    #[schema(value_type = Option<Vec<f64>>)]
    pub bounds: Option<Limits>,
    /// Why there is no estimate.
    pub absent: Option<Absent>,
    /// On request: every case of the cohort with the notes behind it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cases: Option<Vec<Counted>>,
}

/// The rates of the cases that came on the days asked for; `explain` names the notes.
#[must_use]
pub fn hatch_rates(eggs: &[Egg], cohort: &Cohort, zone: Tz, explain: bool) -> HatchRates {
    let meant: Vec<&Egg> = eggs.iter().filter(|egg| cohort.covers(egg.came.time.day(zone), egg.species.as_ref())).collect();
    let of_dam: Vec<&Egg> = meant.iter().copied().filter(|egg| cohort.has_dam(&egg.dam)).collect();
    let part = |wanted: fn(&EggOrigin) -> bool| of_dam.iter().copied().filter(|egg| wanted(&egg.origin)).collect::<Vec<_>>();
    let collected = part(|origin| matches!(origin, EggOrigin::Collected { .. }));
    let received: Vec<&Egg> = part(|origin| matches!(origin, EggOrigin::Received { .. }));
    let (dead, alive): (Vec<&Egg>, Vec<&Egg>) = received.into_iter().partition(|egg| matches!(egg.fate, EggFate::DeadOnArrival { .. }));
    let rates = |eggs: &[&Egg], first| Denominator::ALL.map(|denominator| rate(eggs, denominator, first, explain)).to_vec();
    let dam_only_a_candidate = meant.iter().filter(|egg| cohort.may_have_dam(&egg.dam)).count() as u64;
    HatchRates {
        cohort: cohort.clone(),
        method: METHOD.to_owned(),
        collected: rates(&collected, "collected"),
        received: if alive.is_empty() { Vec::new() } else { rates(&alive, "received") },
        dead_on_arrival: dead.len() as u64,
        origin_withheld: of_dam.iter().filter(|egg| egg.origin == EggOrigin::Withheld).count() as u64,
        behind: Behind { dam_only_a_candidate, ..Behind::of(collected) },
        behind_received: Behind::of(alive),
    }
}

#[derive(Clone, Copy)]
enum Denominator {
    Came,
    WithYolk,
    EmbryoSeen,
    TakenIn,
}

/// Whether a case belongs to a denominator.
enum Belongs {
    Yes,
    No,
    NobodyKnows,
}

impl Denominator {
    const ALL: [Self; 4] = [Self::Came, Self::WithYolk, Self::EmbryoSeen, Self::TakenIn];

    fn name(self, first: &str) -> &str {
        match self {
            Self::Came => first,
            Self::WithYolk => "with yolk",
            Self::EmbryoSeen => "embryo seen",
            Self::TakenIn => "taken into the nursery",
        }
    }

    fn has(self, egg: &Egg) -> Belongs {
        match self {
            Self::Came => Belongs::Yes,
            Self::WithYolk => match egg.yolk {
                YolkLook::Seen => Belongs::Yes,
                YolkLook::NotSeen => Belongs::No,
                YolkLook::CouldNotSee => Belongs::NobodyKnows,
            },
            Self::EmbryoSeen => embryo_seen(egg),
            Self::TakenIn if egg.taken_in.is_some() => Belongs::Yes,
            Self::TakenIn => Belongs::No,
        }
    }

    /// The notes by which a case belongs, beside that by which it came.
    fn notes(self, egg: &Egg) -> Vec<EventId> {
        let first_look = egg.looks.iter().find(|look| look.seen_into).map(|look| look.when.event);
        match self {
            Self::Came => Vec::new(),
            Self::WithYolk => first_look.into_iter().collect(),
            Self::EmbryoSeen => egg.embryo_seen_alive.map(|seen| seen.event).or(first_look).into_iter().collect(),
            Self::TakenIn => egg.taken_in.iter().map(|taken| taken.event).collect(),
        }
    }
}

/// An embryo that never moved while somebody looked may have lived or not: stillness says nothing
/// (Kempster 2013), so such a case is counted among those that could not be judged.
fn embryo_seen(egg: &Egg) -> Belongs {
    let seen_in = |band_at_least: u8| egg.looks.iter().any(|look| look.seen_into && look.band.is_some_and(|band| band >= band_at_least));
    if egg.embryo_seen_alive.is_some() {
        Belongs::Yes
    } else if seen_in(FIRST_BAND_WITH_EMBRYO) || !seen_in(0) {
        Belongs::NobodyKnows
    } else {
        Belongs::No
    }
}

/// The first candling band that shows an embryo (DOMAIN section 2, a convention of this project).
const FIRST_BAND_WITH_EMBRYO: u8 = 2;

/// How the fate of a case counts.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Outcome {
    Unaided,
    AfterOpening,
    NotHatched,
    PutDown,
    PutDownAlive,
    Open,
    Missing,
    NotKnown,
}

impl Outcome {
    fn of(fate: &EggFate) -> Self {
        match fate {
            EggFate::Open => Self::Open,
            EggFate::Hatched { after_opening: None, .. } => Self::Unaided,
            EggFate::Hatched { .. } => Self::AfterOpening,
            EggFate::Lost { .. } | EggFate::DeadOnArrival { .. } => Self::NotHatched,
            EggFate::Removed { alive: LifeState::Dead, .. } => Self::NotHatched,
            fate if is_put_down_alive(fate) => Self::PutDownAlive,
            EggFate::PutDown { .. } => Self::PutDown,
            EggFate::Missing { .. } => Self::Missing,
            EggFate::Removed { .. } | EggFate::YoungNotFound { .. } => Self::NotKnown,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Unaided => "hatched unaided",
            Self::AfterOpening => "hatched after opening",
            Self::NotHatched => "not hatched",
            Self::PutDown => "put down by decision",
            Self::PutDownAlive => "put down by decision, embryo alive",
            Self::Missing => "missing",
            Self::Open => "open",
            Self::NotKnown => "end not known",
        }
    }
}

fn rate(eggs: &[&Egg], denominator: Denominator, first: &str, explain: bool) -> Rate {
    let mut tally = Tally::default();
    let mut cases = Vec::new();
    for egg in eggs {
        let counted_as = match denominator.has(egg) {
            Belongs::No => continue,
            Belongs::NobodyKnows => {
                tally.could_not_be_judged += 1;
                "could not be judged"
            }
            Belongs::Yes => tally.add(Outcome::of(&egg.fate)),
        };
        if explain {
            cases.push(counted(egg, denominator, counted_as));
        }
    }
    Rate { cases: explain.then_some(cases), ..tally.rate(denominator.name(first)) }
}

fn counted(egg: &Egg, denominator: Denominator, counted_as: &str) -> Counted {
    let mut events = vec![egg.came.event];
    events.extend(denominator.notes(egg));
    events.extend(egg.fate.when().map(|end| end.event));
    if let EggFate::Hatched { after_opening: Some(opening), .. } = &egg.fate {
        events.push(*opening);
    }
    let mut seen = Vec::new();
    events.retain(|event| {
        !seen.contains(event) && {
            seen.push(*event);
            true
        }
    });
    Counted {
        subject: egg.id.to_string(),
        label: egg.label.clone(),
        counted_as: counted_as.to_owned(),
        events: events.iter().map(ToString::to_string).collect(),
    }
}

#[derive(Default)]
struct Tally {
    unaided: u64,
    after_opening: u64,
    not_hatched: u64,
    put_down: u64,
    put_down_alive: u64,
    open: u64,
    missing: u64,
    end_not_known: u64,
    could_not_be_judged: u64,
}

impl Tally {
    fn add(&mut self, outcome: Outcome) -> &'static str {
        let counter = match outcome {
            Outcome::Unaided => &mut self.unaided,
            Outcome::AfterOpening => &mut self.after_opening,
            Outcome::NotHatched => &mut self.not_hatched,
            Outcome::PutDown => &mut self.put_down,
            Outcome::PutDownAlive => &mut self.put_down_alive,
            Outcome::Missing => &mut self.missing,
            Outcome::Open => &mut self.open,
            Outcome::NotKnown => &mut self.end_not_known,
        };
        *counter += 1;
        outcome.word()
    }

    fn rate(&self, name: &str) -> Rate {
        let (x, end_not_known) = (self.unaided + self.after_opening, self.end_not_known + self.missing);
        let (undecided, put_down) = (self.open + end_not_known, self.put_down + self.put_down_alive);
        let n = x + self.not_hatched + put_down + self.open;
        let settled = self.open == 0 && n > 0;
        let part = |k: u64, of: u64| numbers::proportion(k as f64 / of as f64);
        let whole = n + end_not_known;
        Rate {
            name: name.to_owned(),
            x,
            n,
            open: self.open,
            unaided: self.unaided,
            after_opening: self.after_opening,
            could_not_be_judged: self.could_not_be_judged,
            end_not_known,
            put_down,
            put_down_alive: self.put_down_alive,
            missing: self.missing,
            estimate: settled.then(|| part(x, n)),
            wilson_95: wilson(x, n, Level::P95).ok().filter(|_| settled).map(numbers::limits),
            bounds: (undecided > 0).then(|| [part(x, whole), part(x + undecided, whole)]),
            absent: self.absent(n),
            cases: None,
        }
    }

    fn absent(&self, n: u64) -> Option<Absent> {
        match (n, self.open) {
            (0, _) => Some(Absent::no_cases()),
            (_, 0) => None,
            (_, 1) => Some(Absent::new("cases open", "1 case is still open")),
            (_, open) => Some(Absent::new("cases open", format!("{open} cases are still open"))),
        }
    }
}
