//! Checks inside one record, one function each: values that are well written and can't all be true.
//!
//! What needs another record, such as a build's blank card, is not known here.

mod bench;
mod card;

pub(crate) use bench::build;
pub(crate) use card::card;
