//! The pages, one file each.

pub(crate) mod bench;
mod blank;
mod build;
pub(crate) mod faults;
pub(crate) mod find;
mod fittings;
pub(crate) mod record;
pub(crate) mod trial;
