//! One test binary; each module checks one part of the house from outside.
