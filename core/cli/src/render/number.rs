//! Numbers as a person reads them are printed alike on every screen: what does it is the plugin crate's.

pub(crate) use taperbook_plugin::print::*;
