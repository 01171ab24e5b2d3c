//! One animal as it is given to the pedigree.

/// One animal, alive or dead. Whoever is named as a parent has a row of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Its name in the table: not empty, unique, and not beginning with `?`, which is kept for
    /// parents whom nobody knows.
    pub id: String,
    /// Its sire.
    pub sire: Parent,
    /// Its dam.
    pub dam: Parent,
    /// Its sex, where that is known.
    pub sex: Option<Sex>,
    /// When it was born or laid, where that is known.
    pub born: Option<Born>,
    /// How it came to be.
    pub mode: Mode,
    /// The clutch it came from. Offspring of one clutch with candidate parents share whichever of
    /// them it was; without a clutch each has its own.
    pub clutch: Option<String>,
    /// Whether it counts among the living, over whom means are taken.
    pub living: bool,
}

impl Row {
    /// A living animal of sexual origin, sex and birth unknown.
    pub fn new(id: impl Into<String>, sire: Parent, dam: Parent) -> Row {
        Row { id: id.into(), sire, dam, sex: None, born: None, mode: Mode::Sexual, clutch: None, living: true }
    }
}

/// What is known of one parent.
#[derive(Clone, Debug, PartialEq)]
pub enum Parent {
    /// This animal, by its `id`.
    Known(String),
    /// One of these; the weights sum to 1 and say how likely each is (Henderson 1988, J Anim Sci
    /// 66:1614: average relationship).
    Candidates(Vec<Candidate>),
    /// There was one, and nobody knows which. It is taken as unrelated to all others.
    Unknown,
    /// There was none: the offspring of a dam alone. Never a stand-in for [`Parent::Unknown`], which
    /// would invent a founder.
    None,
    /// An animal in the wild. For the arithmetic the same as unknown; for the reader not.
    WildCaught,
}

impl Parent {
    /// This animal.
    pub fn known(id: impl Into<String>) -> Parent {
        Parent::Known(id.into())
    }
}

/// One of several possible parents.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Its `id`.
    pub id: String,
    /// How likely it is: above 0, and 1 in sum over the candidates.
    pub weight: f64,
}

/// Sex as it is recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sex {
    /// May be a dam.
    Female,
    /// May be a sire.
    Male,
}

/// When an animal was born or laid. One table uses one of the two.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Born {
    /// A date, in days since 1970-01-01.
    Date(i64),
    /// A number on a scale of the table's own, such as years; larger is later.
    Number(f64),
}

/// How an animal came to be. For the last three one parameter, rho, says all: the chance that its
/// two alleles are copies of the *same* allele of its mother; `F = rho + (1 - rho) F_dam`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mode {
    /// From a sire and a dam.
    Sexual,
    /// From two gametes of one hermaphrodite: rho = 1/2.
    Selfing,
    /// From an egg whose nucleus fused with a polar body. Terminal fusion without crossing over, and
    /// gamete duplication: rho = 1, the default, as sharks' young from dams alone are reported to be
    /// almost wholly homozygous (Chapman et al. 2007, Biol Lett 3:425; Feldheim et al. 2010, J Hered
    /// 101:374; both from memory); random fusion 1/3; central fusion without crossing over 0.
    Automixis {
        /// In [0, 1].
        rho: f64,
    },
    /// A copy of the dam: rho = 0.
    Clone,
}

impl Mode {
    /// `rho`, or `None` for the sexual mode, which has no such number.
    pub fn rho(self) -> Option<f64> {
        match self {
            Mode::Sexual => None,
            Mode::Selfing => Some(0.5),
            Mode::Automixis { rho } => Some(rho),
            Mode::Clone => Some(0.0),
        }
    }

    /// Its word in a table.
    pub fn word(self) -> &'static str {
        match self {
            Mode::Sexual => "sexual",
            Mode::Selfing => "selfing",
            Mode::Automixis { .. } => "automixis",
            Mode::Clone => "clone",
        }
    }
}
