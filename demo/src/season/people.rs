//! Who signs. People are pseudonyms in the record; here they are called by what they do.

use super::calendar::{TABLET_LOST, TABLET_REVOKED};
use chrono::{Datelike as _, NaiveDate, Weekday};

/// A key and whoever holds it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Signer {
    /// Holds the first root key.
    TrusteeOne,
    /// Holds the second root key.
    TrusteeTwo,
    /// Holds the third root key.
    TrusteeThree,
    /// Answers for the record.
    Registrar,
    /// Answers for the collection.
    Curator,
    /// Licensed.
    Veterinarian,
    /// Works at the tanks.
    KeeperOne,
    /// Works at the tanks, with a tablet that is lost in September.
    KeeperTwo,
    /// The same person with a new tablet.
    KeeperTwoAgain,
    /// Learns the work in July and August.
    Trainee,
    /// Reads the warm system's temperature every morning.
    Probe,
}

/// The root keys' holders.
pub const TRUSTEES: [Signer; 3] = [Signer::TrusteeOne, Signer::TrusteeTwo, Signer::TrusteeThree];

/// Everybody who has a key.
pub const EVERYBODY: [Signer; 11] = [
    Signer::TrusteeOne,
    Signer::TrusteeTwo,
    Signer::TrusteeThree,
    Signer::Registrar,
    Signer::Curator,
    Signer::Veterinarian,
    Signer::KeeperOne,
    Signer::KeeperTwo,
    Signer::KeeperTwoAgain,
    Signer::Trainee,
    Signer::Probe,
];

impl Signer {
    /// What the person is called here: a role, never a name.
    #[must_use]
    pub fn called(self) -> &'static str {
        match self {
            Self::TrusteeOne => "trustee one",
            Self::TrusteeTwo => "trustee two",
            Self::TrusteeThree => "trustee three",
            Self::Registrar => "registrar",
            Self::Curator => "curator",
            Self::Veterinarian => "veterinarian",
            Self::KeeperOne => "keeper one",
            Self::KeeperTwo | Self::KeeperTwoAgain => "keeper two",
            Self::Trainee => "trainee",
            Self::Probe => "probe 3",
        }
    }

    /// File name of the key, without ending.
    #[must_use]
    pub fn key_name(self) -> String {
        let suffix = if self == Self::KeeperTwoAgain { " new tablet" } else { "" };
        format!("{}{suffix}", self.called()).replace(' ', "-")
    }

    /// Roles given at enrolment; none for root keys, which sign only administration (F10).
    #[must_use]
    pub fn roles(self) -> &'static [&'static str] {
        match self {
            Self::TrusteeOne | Self::TrusteeTwo | Self::TrusteeThree => &[],
            Self::Registrar => &["registrar"],
            Self::Curator => &["curator"],
            Self::Veterinarian => &["veterinarian"],
            Self::KeeperOne | Self::KeeperTwo | Self::KeeperTwoAgain => &["keeper"],
            Self::Trainee => &["trainee"],
            Self::Probe => &["instrument"],
        }
    }

    /// Where the key is kept, in words.
    #[must_use]
    pub fn device(self) -> &'static str {
        match self {
            Self::TrusteeOne | Self::TrusteeTwo | Self::TrusteeThree => "safe",
            Self::Registrar | Self::Curator => "office computer",
            Self::Veterinarian => "veterinarian's phone",
            Self::KeeperOne => "tablet 1",
            Self::KeeperTwo => "tablet 2",
            Self::KeeperTwoAgain => "tablet 3",
            Self::Trainee => "tablet 1, own key",
            Self::Probe => "probe 3",
        }
    }

    /// The key whose person this is: the probe is answered for by the curator.
    #[must_use]
    pub fn person_key(self) -> Self {
        match self {
            Self::KeeperTwoAgain => Self::KeeperTwo,
            Self::Probe => Self::Curator,
            own => own,
        }
    }

    /// Whether its notes travel over the nursery's wireless network.
    #[must_use]
    pub fn is_wireless(self) -> bool {
        matches!(self, Self::KeeperOne | Self::KeeperTwo | Self::KeeperTwoAgain | Self::Trainee | Self::Veterinarian)
    }
}

/// The keeper whose round it is: one from Monday to Thursday, two from Friday to Sunday.
#[must_use]
pub fn on_duty(date: NaiveDate) -> Signer {
    let early = matches!(date.weekday(), Weekday::Mon | Weekday::Tue | Weekday::Wed | Weekday::Thu);
    // Keeper two has no tablet between the loss and the new key.
    let without = (TABLET_LOST..=TABLET_REVOKED).contains(&date);
    if early || without { Signer::KeeperOne } else { keeper_two(date) }
}

/// A second pair of eyes on that day, never the same person as [`on_duty`].
#[must_use]
pub fn second(date: NaiveDate) -> Signer {
    if (TABLET_LOST..=TABLET_REVOKED).contains(&date) {
        return Signer::Veterinarian;
    }
    if on_duty(date) == Signer::KeeperOne { keeper_two(date) } else { Signer::KeeperOne }
}

fn keeper_two(date: NaiveDate) -> Signer {
    if date < TABLET_LOST { Signer::KeeperTwo } else { Signer::KeeperTwoAgain }
}
