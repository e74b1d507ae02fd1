//! One test binary; each module checks one part of the house from outside.

mod metrology;
mod physics;
mod reference;
