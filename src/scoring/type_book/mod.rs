//! The type book: what the released pieces of a product taught this desk about the next one.
//!
//! What it is for: from the values of at least 20 released pieces it learns centre and scatter of each quantity, instrument
//! by instrument, and doubts a piece that lies outside what they lead to expect. What it must never do: clear a piece, or
//! take away a doubt: a desk that once took in a whole population of wrong pieces would have learned them as right.
//!
//! Against such poisoning: only released pieces teach; a release that is taken back, or a second test that disagrees, takes
//! the piece out; one odd piece moves the figures little ([`crate::metrology::huber`]); the book says how many pieces each
//! source sent and remarks on one that sent more than 80 % of them. Pieces outside the learned limits come in again only
//! when somebody settles the doubt and releases them; without that the book would slowly narrow.
//!
//! Read next: [`TypeBook`], then [`TypeBookUse`].

mod comparison;
mod entry;
mod learned;
mod rules;

pub(super) use comparison::beside;
pub use comparison::{Compared, TypeBookUse};
pub use entry::{PublishedLimits, TypeBookEntry, entries, published, teaches};
pub use learned::{Learned, LearnedFigures, Taught, TypeBook};
pub use rules::TypeBookRules;
pub(super) use rules::TypeBookText;
