//! Which kinds of body are there, and which pairs of kinds can a limit name?

use std::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The kind of a body; limits and results are stated for pairs of kinds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BodyClass {
    /// Links of the arm, its base included.
    Arm,
    /// A foot restraint and its boot plate.
    Restraint,
    /// The crewmember whom the arm carries, suit and tool included.
    Rider,
    /// The other crewmember.
    SecondCrew,
    /// Something that can be taken, carried and placed.
    Payload,
    /// What is fixed.
    Structure,
    /// A zone that nothing may enter.
    KeepOut,
}

impl BodyClass {
    /// Every class, in the order in which pairs are named.
    pub const ALL: [Self; 7] =
        [Self::Arm, Self::Restraint, Self::Rider, Self::SecondCrew, Self::Payload, Self::Structure, Self::KeepOut];

    /// The word used in files and reports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Arm => "arm",
            Self::Restraint => "restraint",
            Self::Rider => "rider",
            Self::SecondCrew => "second_crew",
            Self::Payload => "payload",
            Self::Structure => "structure",
            Self::KeepOut => "keep_out",
        }
    }
}

/// An unordered pair of classes, written `payload_to_structure`; held with the earlier class first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ClassPair {
    first: BodyClass,
    second: BodyClass,
}

impl ClassPair {
    /// The pair of two classes, in either order.
    pub fn new(a: BodyClass, b: BodyClass) -> Self {
        Self { first: a.min(b), second: a.max(b) }
    }

    /// The two classes, the earlier one first.
    pub const fn classes(self) -> (BodyClass, BodyClass) {
        (self.first, self.second)
    }

    /// Every pair, in order.
    pub fn all() -> impl Iterator<Item = Self> {
        BodyClass::ALL
            .into_iter()
            .flat_map(|a| BodyClass::ALL.into_iter().filter(move |b| a <= *b).map(move |b| Self::new(a, b)))
    }

    /// The pair that a key such as `structure_to_payload` names, classes in either order.
    pub fn from_key(key: &str) -> Option<Self> {
        let class = |word: &str| BodyClass::ALL.into_iter().find(|class| class.word() == word);
        let (a, b) = key.split_once("_to_")?;
        Some(Self::new(class(a)?, class(b)?))
    }
}

impl fmt::Display for ClassPair {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}_to_{}", self.first.word(), self.second.word())
    }
}
