//! What speaks for and against opening a case (DOMAIN section 5). Never a recommendation: the
//! licensed veterinarian and the institution's animal-welfare process decide. Read in this order:
//! `criteria`, `against`, `comparable`.

mod against;

mod comparable;

mod criteria;

use super::forecast::Forecaster;
use super::state::{
    Agreement, Egg, EggFate, EggForecast, EvidenceAged, Holds, Look, Moment, OpeningAssessment, Weighed, WindowJudged, WindowStanding,
};
use super::view::View;
use selachron_schemas::cautions::of_an_opening;
use selachron_schemas::names::Subject;
use selachron_schemas::time::whole_days;

/// What every assessment says first.
const NO_RECOMMENDATION: &str = "This is no recommendation to open. What speaks for and what speaks against stand side by side with equal \
     weight; the licensed veterinarian and the institution's animal-welfare process decide, and most late young come by themselves (common \
     practice, no source).";

/// A case with what it is judged by.
pub(super) struct Judged<'j, 'v, 'a> {
    pub view: &'v View<'a>,
    pub egg: &'j Egg,
    pub forecast: &'j EggForecast,
}

/// All cases that meet the criteria of the house rules.
pub(super) fn met_by(view: &View<'_>) -> Vec<Subject> {
    view.meeting(&Forecaster::new(view))
}

impl View<'_> {
    /// What speaks for and against opening a case; `None` if no note that stands says how it came.
    #[must_use]
    pub fn opening_assessment(&self, id: &Subject) -> Option<OpeningAssessment> {
        let forecaster = Forecaster::new(self);
        let egg = self.fold_egg(id, &self.facts(id)).0?;
        let met_by = self.meeting(&forecaster);
        Some(self.assessment(&forecaster, &egg, &met_by))
    }

    /// The same of every case that meets all criteria of the house rules at this moment, by id.
    #[must_use]
    pub fn opening_assessments(&self) -> Vec<OpeningAssessment> {
        let forecaster = Forecaster::new(self);
        let met_by = self.meeting(&forecaster);
        let eggs = forecaster.eggs().iter().filter(|egg| met_by.contains(&egg.id));
        eggs.map(|egg| self.assessment(&forecaster, egg, &met_by)).collect()
    }

    /// All cases that meet the criteria.
    fn meeting(&self, forecaster: &Forecaster<'_, '_>) -> Vec<Subject> {
        let open = forecaster.eggs().iter().filter(|egg| egg.fate == EggFate::Open);
        let meets = |egg: &&Egg| {
            let forecast = forecaster.forecast(egg);
            Judged { view: self, egg, forecast: &forecast }.criteria().iter().all(|weighed| weighed.holds == Holds::Yes)
        };
        open.filter(meets).map(|egg| egg.id.clone()).collect()
    }

    fn assessment(&self, forecaster: &Forecaster<'_, '_>, egg: &Egg, met_by: &[Subject]) -> OpeningAssessment {
        let forecast = forecaster.forecast(egg);
        let judged = Judged { view: self, egg, forecast: &forecast };
        OpeningAssessment {
            egg: egg.id.clone(),
            label: egg.label.clone(),
            species: egg.species.clone(),
            says: NO_RECOMMENDATION,
            window: judged.window(),
            criteria: judged.criteria(),
            against: judged.against(),
            meets_criteria: met_by.contains(&egg.id),
            sealed: egg.slits_open.is_none(),
            comparable: self.comparable(egg, forecaster.eggs()),
            agreement: self.agreement(egg),
            met_by: met_by.to_vec(),
            cautions: of_an_opening(),
        }
    }

    fn agreement(&self, egg: &Egg) -> Agreement {
        let roles = self.policy().opening_approval_roles.clone();
        let says = match roles.is_empty() {
            true => "Two people open, and the institution's standing protocol is the approval.".to_owned(),
            false => format!("Two people open, and the house rules want the approval of {}.", roles.join(" and ")),
        };
        let names = |about: &Subject, species: &Option<Subject>| {
            *about == egg.id || (about.noun() == "collection" && (species.is_none() || *species == egg.species))
        };
        let given = self.authorisations().into_iter().filter(|given| given.in_force && names(&given.subject, &given.species));
        Agreement { roles, says, authorisations: given.collect() }
    }
}

impl Judged<'_, '_, '_> {
    /// The window, or by what the case is judged without one.
    fn window(&self) -> WindowJudged {
        let forecast = self.forecast;
        let says = match (&forecast.expected, &forecast.no_forecast) {
            (Some(window), _) => format!(
                "expected to have hatched by {} with 5 %, by {} with 50 %, by {} with 95 %: {}",
                window.p05,
                window.p50,
                window.p95,
                match forecast.standing {
                    WindowStanding::Before => "before the window",
                    WindowStanding::Past => "past the window",
                    _ => "in the window",
                }
            ),
            (None, Some(none)) => format!("window: not known, judged by {} ({})", self.judged_by(), none.says),
            (None, None) => format!("window: not known, judged by {}", self.judged_by()),
        };
        let grade = forecast.rate.as_ref().map(|rate| rate.grade);
        WindowJudged { standing: forecast.standing, says, expected: forecast.expected, grade }
    }

    fn judged_by(&self) -> String {
        let band = self.egg.band.map_or_else(|| "no band seen".to_owned(), |band| format!("band {band}"));
        format!("{band} and the days since laying, at least {}", self.forecast.days_since_laying.fewest)
    }

    pub(super) fn aged(&self, moment: Moment) -> EvidenceAged {
        EvidenceAged { event: moment.event, age_days: self.age_days(moment) }
    }

    pub(super) fn age_days(&self, moment: Moment) -> i64 {
        whole_days(self.view.day(moment.time), self.view.day(self.view.as_of()))
    }

    /// Looks that still say something of today, the newest first.
    pub(super) fn recent(&self) -> Vec<&Look> {
        let within = i64::from(self.view.policy().opening_looks_within_days);
        self.egg.looks.iter().rev().take_while(|look| self.age_days(look.when) <= within).collect()
    }

    /// The newest look that could see in.
    pub(super) fn newest_into(&self) -> Option<&Look> {
        self.egg.looks.iter().rev().find(|look| look.seen_into)
    }

    pub(super) fn weighed(&self, what: &'static str, holds: Holds, says: String, looks: &[&Look]) -> Weighed {
        Weighed { what, holds, says, evidence: looks.iter().map(|look| self.aged(look.when)).collect() }
    }
}
