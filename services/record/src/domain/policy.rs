//! House rules by position in the log (F22): members set earlier and not named later stay.

use super::state::{Policy, WaterBand};
use super::told::Told;
use super::view::View;
use super::whole::{Whole, whole};
use serde::Deserialize;
use std::collections::BTreeMap;

/// `policy.set.v1`
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[allow(missing_docs, reason = "the members are described in the schema of the kind")]
pub struct PolicySet {
    #[serde(default, deserialize_with = "whole")]
    pub candling_interval_days: Option<u32>,
    pub candling_interval_days_by_band: Option<BTreeMap<String, Whole>>,
    #[serde(default, deserialize_with = "whole")]
    pub rest_after_laying_days: Option<u32>,
    #[serde(default, deserialize_with = "whole")]
    pub look_again_after_hours: Option<u32>,
    #[serde(default, deserialize_with = "whole")]
    pub looks_before_loss_min: Option<u32>,
    #[serde(default, deserialize_with = "whole")]
    pub unseen_days_max: Option<u32>,
    pub mass_loss_percent_max: Option<f64>,
    pub opening_approval_roles: Option<Vec<String>>,
    #[serde(default, deserialize_with = "whole")]
    pub temperature_gap_hours_max: Option<u32>,
    pub opening_criteria: Option<Vec<String>>,
    #[serde(default, deserialize_with = "whole")]
    pub opening_alive_looks_min: Option<u32>,
    #[serde(default, deserialize_with = "whole")]
    pub opening_looks_within_days: Option<u32>,
    pub water_bands: Option<Vec<WaterBand>>,
    pub opened_cases_apart: Option<bool>,
    #[serde(default, deserialize_with = "whole")]
    pub walk_interval_hours: Option<u32>,
    #[serde(default, deserialize_with = "whole")]
    pub group_count_interval_days: Option<u32>,
    #[serde(default, deserialize_with = "whole")]
    pub photo_interval_days: Option<u32>,
    pub witnesses: Option<Vec<String>>,
}

/// Criteria of an opening that the record judges itself (common practice, no source).
pub(super) const CRITERIA: [&str; 4] = ["past the window", "band 7", "external yolk gone", "alive on repeated looks"];

/// Where nothing was ever set; SPEC's choice 25, conventions of this project.
impl Default for Policy {
    fn default() -> Self {
        Self {
            candling_interval_days: 7,
            candling_interval_days_by_band: BTreeMap::new(),
            rest_after_laying_days: None,
            look_again_after_hours: 48,
            looks_before_loss_min: 2,
            unseen_days_max: 14,
            mass_loss_percent_max: 10.0,
            opening_approval_roles: vec!["curator".to_owned(), "veterinarian".to_owned()],
            temperature_gap_hours_max: 36,
            opening_criteria: CRITERIA.map(str::to_owned).to_vec(),
            opening_alive_looks_min: 2,
            opening_looks_within_days: 7,
            water_bands: Vec::new(),
            opened_cases_apart: false,
            walk_interval_hours: None,
            group_count_interval_days: None,
            photo_interval_days: None,
            witnesses: Vec::new(),
            events: Vec::new(),
        }
    }
}

impl Policy {
    /// Days until the next scheduled look at a case last seen in `band`.
    #[must_use]
    pub fn interval_days(&self, band: Option<u8>) -> u32 {
        let by_band = band.and_then(|band| self.candling_interval_days_by_band.get(&band.to_string()));
        by_band.copied().unwrap_or(self.candling_interval_days)
    }

    fn with(&self, set: &PolicySet) -> Self {
        let mut next = self.clone();
        let days = |Whole(days): &Whole| u32::try_from(*days).unwrap_or(u32::MAX);
        if let Some(table) = &set.candling_interval_days_by_band {
            next.candling_interval_days_by_band = table.iter().map(|(band, whole)| (band.clone(), days(whole))).collect();
        }
        next.candling_interval_days = set.candling_interval_days.unwrap_or(next.candling_interval_days);
        next.rest_after_laying_days = set.rest_after_laying_days.or(next.rest_after_laying_days);
        next.look_again_after_hours = set.look_again_after_hours.unwrap_or(next.look_again_after_hours);
        next.looks_before_loss_min = set.looks_before_loss_min.unwrap_or(next.looks_before_loss_min);
        next.unseen_days_max = set.unseen_days_max.unwrap_or(next.unseen_days_max);
        next.mass_loss_percent_max = set.mass_loss_percent_max.unwrap_or(next.mass_loss_percent_max);
        next.opening_approval_roles = set.opening_approval_roles.clone().unwrap_or(next.opening_approval_roles);
        next.temperature_gap_hours_max = set.temperature_gap_hours_max.unwrap_or(next.temperature_gap_hours_max);
        next.opening_criteria = set.opening_criteria.clone().unwrap_or(next.opening_criteria);
        next.opening_alive_looks_min = set.opening_alive_looks_min.unwrap_or(next.opening_alive_looks_min);
        next.opening_looks_within_days = set.opening_looks_within_days.unwrap_or(next.opening_looks_within_days);
        next.water_bands = set.water_bands.clone().unwrap_or(next.water_bands);
        next.opened_cases_apart = set.opened_cases_apart.unwrap_or(next.opened_cases_apart);
        next.walk_interval_hours = set.walk_interval_hours.or(next.walk_interval_hours);
        next.group_count_interval_days = set.group_count_interval_days.or(next.group_count_interval_days);
        next.photo_interval_days = set.photo_interval_days.or(next.photo_interval_days);
        next.witnesses = set.witnesses.clone().unwrap_or(next.witnesses);
        next
    }
}

impl View<'_> {
    /// The house rules when S notes are known.
    #[must_use]
    pub fn policy(&self) -> &Policy {
        self.policy_at(self.known_at())
    }

    /// The house rules under which the note at `seq` was recorded.
    #[must_use]
    pub fn policy_at(&self, seq: u64) -> &Policy {
        let (first, set) = self.cache.policies.get_or_init(|| (Policy::default(), self.policies()));
        set.iter().rev().find(|(since, _)| *since < seq).map_or(first, |(_, policy)| policy)
    }

    fn policies(&self) -> Vec<(u64, Policy)> {
        let mut all: Vec<(u64, Policy)> = Vec::new();
        let notes = self.nursery().index().policies.iter().filter(|seq| **seq < self.known_at());
        for note in notes.map(|seq| self.nursery().note(*seq)) {
            let Some(Told::PolicySet(set)) = note.written().map(|written| &*written.told) else { continue };
            let mut next = all.last().map(|(_, policy)| policy.clone()).unwrap_or_default().with(set);
            next.events.push(note.id);
            all.push((note.seq, next));
        }
        all
    }
}
