//! The tables of the archive. A column's name is a term of Darwin Core; what it means here is beside it.
//!
//! Controlled values: `captive` is of the Degree of Establishment vocabulary (TDWG, <https://dwc.tdwg.org/doe/>),
//! `publicGardenZooAquaria` (dwcpw:p011) of the Pathway vocabulary (TDWG, <https://dwc.tdwg.org/pw/>, list of
//! terms of 10 July 2025). `LivingSpecimen` is a class of Darwin Core. The words of occurrenceStatus are
//! those of each target.

use crate::export::shape::{Of, Shape, column};

/// Where the terms are from.
pub const DWC: &str = "http://rs.tdwg.org/dwc/terms/";

/// Degree of establishment of every animal of the record.
pub const CAPTIVE: &str = "captive";

/// By which pathway it is where it is.
pub const PATHWAY: &str = "publicGardenZooAquaria";

/// What a row rests on: an organism that lives, or lived, in care.
pub const BASIS: &str = "LivingSpecimen";

/// What the archive does not say.
pub const WITHHELD: &str = "places, prices and people are withheld by default; ask the collection";

/// For whom the archive is. The two want the same word today; which list it is from they say apart.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Target {
    /// The Global Biodiversity Information Facility.
    #[default]
    Gbif,
    /// The Ocean Biodiversity Information System.
    Obis,
}

impl Target {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Gbif, Self::Obis];

    /// As a query names it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Gbif => "gbif",
            Self::Obis => "obis",
        }
    }

    /// The target of that name.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|target| target.word() == word)
    }

    /// The word for "was there".
    #[must_use]
    pub fn present(self) -> &'static str {
        match self {
            Self::Gbif | Self::Obis => "present",
        }
    }

    /// Where that word is from. Both from memory: confirm before quoting.
    #[must_use]
    pub fn vocabulary(self) -> &'static str {
        match self {
            Self::Gbif => "http://rs.gbif.org/vocabulary/gbif/occurrence_status",
            Self::Obis => "the OBIS manual: present or absent",
        }
    }

    /// The same as an address, for `meta.xml`; none where it is words in a manual.
    #[must_use]
    pub fn vocabulary_address(self) -> Option<&'static str> {
        Some(self.vocabulary()).filter(|words| words.starts_with("http"))
    }
}

/// The column that is written in the words of a target.
pub const STATUS: &str = "occurrenceStatus";

/// The core: one row an animal.
pub const OCCURRENCES: Shape = Shape {
    name: "occurrence",
    about: "One row an animal, from its hatch or arrival on.",
    columns: &[
        column("occurrenceID", Of::Text, "The animal, as an address below the log's origin."),
        column("organismID", Of::Text, "The same: an animal is one organism."),
        column("organismName", Of::Text, "Its label."),
        column("basisOfRecord", Of::Text, "LivingSpecimen."),
        column(STATUS, Of::Text, "The target's word for present."),
        column("degreeOfEstablishment", Of::Text, "captive, always."),
        column("pathway", Of::Text, "publicGardenZooAquaria, always."),
        column("kingdom", Of::Text, "Animalia."),
        column("scientificName", Of::Text, "As the collection lists it; empty where no note that stands says the species."),
        column("identificationRemarks", Of::Text, "Why there is no name."),
        column("sex", Of::Text, "male or female, as far as it can be told."),
        column("individualCount", Of::Count, "1."),
        column(
            "eventDate",
            Of::Text,
            "The day of its hatch, its arrival, or of being told apart; two days with / between where it lies between looks.",
        ),
        column("occurrenceRemarks", Of::Text, "How it came, and what became of it."),
        column("countryCode", Of::Text, "Empty unless asked for."),
        column("informationWithheld", Of::Text, "What is not said."),
    ],
    key: &["occurrenceID"],
    refers: &[],
};

/// Measures of animals.
pub const MEASURES: Shape = Shape {
    name: "measurementorfact",
    about: "Lengths and masses.",
    columns: &[
        column("occurrenceID", Of::Text, "The animal."),
        column("measurementID", Of::Text, "The note, and which of its measures."),
        column("measurementType", Of::Text, "total length, disc width, length or mass."),
        column("measurementValue", Of::Number, "The value."),
        column("measurementUnit", Of::Text, "cm or g."),
        column("measurementDeterminedDate", Of::Text, "The day."),
        column("measurementMethod", Of::Text, "measured, from a photo, drained, in water."),
    ],
    key: &["measurementID"],
    refers: &[],
};

/// Parents of animals.
pub const RELATIONS: Shape = Shape {
    name: "resourcerelationship",
    about: "Parents: known, or candidates with their weights.",
    columns: &[
        column("resourceID", Of::Text, "The animal."),
        column("resourceRelationshipID", Of::Text, "This relation."),
        column("relationshipOfResource", Of::Text, "offspring of, or possibly offspring of."),
        column("relatedResourceID", Of::Text, "The parent, or who may be."),
        column(
            "relationshipRemarks",
            Of::Text,
            "dam or sire, known or candidate with its weight. What it rests on is free text, and not said.",
        ),
    ],
    key: &["resourceRelationshipID"],
    refers: &[],
};

/// The extensions, with the last part of their row types.
pub const EXTENSIONS: [(&Shape, &str); 2] = [(&MEASURES, "MeasurementOrFact"), (&RELATIONS, "ResourceRelationship")];
