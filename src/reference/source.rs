//! Where a number comes from: marks, citations, and values that carry both.

use std::fmt;
use std::sync::Arc;

/// Makes a newtype over a shared text, cheap to clone.
macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Arc<str>);

        impl $name {
            /// Makes the id from its text; whether it exists is for the catalogue to say.
            pub fn new(text: &str) -> Self {
                $name(Arc::from(text))
            }

            /// Returns the text of the id.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(&self.0)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                <String as serde::Deserialize>::deserialize(deserializer).map(|text| $name::new(&text))
            }
        }

        impl std::borrow::Borrow<str> for $name {
            fn borrow(&self) -> &str {
                &self.0
            }
        }
    };
}
pub(super) use id;

id! {
    /// Names a source of the reference, for instance `us-act-1873`.
    SourceId
}

/// Makes an enum whose variants are written as words in the reference files.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $($(#[$vdoc])* $variant),+
        }

        impl $name {
            /// Every word that may be written, in the order of the variants.
            pub const WORDS: &'static [&'static str] = &[$($word),+];

            /// Returns the word as it is written in the reference files.
            pub fn as_str(self) -> &'static str {
                match self { $($name::$variant => $word),+ }
            }

            /// Returns the variant that a word names.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some($name::$variant),)+ _ => None }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.as_str())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let word = <String as serde::Deserialize>::deserialize(deserializer)?;
                $name::from_word(&word).ok_or_else(|| serde::de::Error::unknown_variant(&word, $name::WORDS))
            }
        }
    };
}
pub(super) use words;

words! {
    /// How a value came into the reference, from the strongest to the weakest.
    Mark {
        /// The source was open when the value was copied.
        Read = "read",
        /// Lies within figures that were read, or is the mean, the interpolation or the conversion of them.
        Derived = "derived",
        /// Follows by arithmetic or by a named formula from values that were read.
        Calculated = "calculated",
        /// Recalled; the source named was not open.
        Memory = "memory",
        /// Taken because a value is needed: common practice, or the like of a neighbour.
        Assumed = "assumed",
    }
}

/// A source of the reference.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Citation {
    /// Name by which values refer to it.
    pub id: SourceId,
    /// Title, edition, clause or table.
    pub text: String,
    /// `Read` when the document was open, otherwise how it is known.
    pub mark: Mark,
}

/// A value with its mark and its sources; there is always at least one source.
#[derive(Debug, Clone, PartialEq)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// How the value is known.
    pub mark: Mark,
    /// Where it comes from, the weightiest first.
    pub sources: Vec<SourceId>,
}

/// A value with the range in which published or calculated values of it lie: `low` ≤ `value` ≤ `high`.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranged<T> {
    /// The value to expect.
    pub value: T,
    /// Lowest value that a piece of the material can have.
    pub low: T,
    /// Highest value that a piece of the material can have.
    pub high: T,
    /// How the value is known.
    pub mark: Mark,
    /// How the range is known; `Assumed` where no source gives a spread.
    pub range_mark: Mark,
    /// Where value and range come from, the weightiest first.
    pub sources: Vec<SourceId>,
}

/// A range without a preferred value: `low` ≤ `high`.
#[derive(Debug, Clone, PartialEq)]
pub struct Bounds<T> {
    /// Least value allowed.
    pub low: T,
    /// Largest value allowed.
    pub high: T,
    /// How the range is known.
    pub mark: Mark,
    /// Where it comes from, the weightiest first.
    pub sources: Vec<SourceId>,
}

words! {
    /// What the number of a specification means.
    Basis {
        /// The value aimed at; pieces scatter about it.
        Nominal = "nominal",
        /// An upper limit; the usual value is lower and not stated.
        Maximum = "maximum",
        /// A lower limit; anything above is allowed.
        Minimum = "minimum",
    }
}

/// A specified quantity with its legal or assumed deviations.
///
/// `minus` and `plus` are distances from `nominal`, never negative; absent means that no source sets one.
#[derive(Debug, Clone, PartialEq)]
pub struct Specified<T> {
    /// The number of the specification.
    pub nominal: Sourced<T>,
    /// What that number means.
    pub basis: Basis,
    /// Largest deviation allowed below.
    pub minus: Option<Sourced<T>>,
    /// Largest deviation allowed above.
    pub plus: Option<Sourced<T>>,
}

impl<T> Specified<T> {
    /// Tells whether the number is only what is customary: assumed, without a deviation of its own.
    ///
    /// Such a number says what to expect; it is no limit, and nothing may be excluded by it.
    pub fn is_customary(&self) -> bool {
        self.nominal.mark == Mark::Assumed && self.minus.is_none() && self.plus.is_none()
    }
}
