//! The pages, one file each.

pub(crate) mod bench;
mod blank;
mod build;
mod ends;
pub(crate) mod faults;
pub(crate) mod find;
pub(crate) mod fittings;
pub(crate) mod guides;
pub(crate) mod paper;
pub(crate) mod record;
pub(crate) mod trial;
