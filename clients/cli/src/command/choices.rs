//! What can be listed, and which figures there are.

/// What can be listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum ListWhat {
    /// Egg cases.
    Eggs,
    /// Animals.
    Animals,
    /// Tanks.
    Tanks,
    /// Water systems.
    Systems,
    /// Species.
    Species,
    /// Keys.
    Keys,
    /// Instruments.
    Instruments,
    /// Places in tanks.
    Places,
    /// Batches of food.
    Foods,
    /// Rounds.
    Rounds,
    /// Incidents.
    Incidents,
    /// Consignments.
    Consignments,
    /// Loans.
    Loans,
    /// Samples.
    Samples,
    /// Documents.
    Documents,
    /// Quarantines.
    Quarantines,
    /// Hand-overs of duty.
    Duty,
}

/// Which figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum FiguresWhat {
    /// Hatch rates with four denominators.
    HatchRates,
    /// Survival of the young.
    Rearing,
    /// What becomes of cases, by age.
    EggFates,
    /// When cases die, as a band between looks.
    LossTiming,
    /// Days to hatching by temperature, by species.
    Incubation,
    /// Life table of the young.
    LifeTable,
    /// Kinship, founders and gene diversity, by species.
    Pedigree,
}
