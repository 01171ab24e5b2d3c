//! What can be listed and exported, and which figures there are.

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
    /// Permits.
    Permits,
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
    /// Opened cases, described; compared only with --eligible-from-days.
    Assisted,
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

/// What can be exported.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum ExportWhat {
    /// All notes as they were signed, one a line.
    Events,
    /// The record as plain tables.
    Tables,
    /// One row an animal.
    Studbook,
    /// The pedigree in forms of other programs.
    Pedigree,
    /// A Darwin Core archive of the animals.
    DarwinCore,
    /// The stock list of a year.
    StockList,
    /// The egg ledger of a year.
    EggLedger,
    /// Uses of permits by species and code, of a year or of all.
    Trade,
}

impl ExportWhat {
    /// Its last part of the path.
    #[must_use]
    pub fn path(self) -> &'static str {
        match self {
            Self::Events => "events",
            Self::Tables => "tables",
            Self::Studbook => "studbook",
            Self::Pedigree => "pedigree",
            Self::DarwinCore => "darwin-core",
            Self::StockList => "stock-list",
            Self::EggLedger => "egg-ledger",
            Self::Trade => "trade",
        }
    }
}
