//! The reference: materials, products, their sources, and the dealer's own additions.
//!
//! What it is for: every number a verdict rests on comes from here, with its range, its sources and a mark that says
//! whether it was read, calculated, recalled or assumed. What it must never do: hold a number without a source, open
//! a file, or repair a mistake in silence. Read next: [`product`] and [`material`], then [`catalogue`].

pub mod catalogue;
pub mod caution;
pub mod closest;
pub mod gaps;
pub mod material;
pub mod mistake;
mod parse;
pub mod practice;
pub mod product;
mod record;
pub mod source;
pub(crate) mod table;

pub use catalogue::Catalogue;
pub use caution::{Caution, CautionKind};
pub use material::{Family, Found, Magnetism, Material, MaterialId, Metal};
pub use mistake::{Mistake, Mistakes, Reason};
pub use practice::{BuiltAs, Practice, PracticeEntry, WorthEntry};
pub use product::{Kind, Origin, Product, ProductId, Shape};
pub use source::{Basis, Bounds, Citation, Mark, Ranged, SourceId, Sourced, Specified};
