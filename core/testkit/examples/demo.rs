//! Makes the demo shop folder anew: `cargo run -p taperbook-testkit --example demo [-- FOLDER]`.
//!
//! It removes nothing: a file that the demo no longer has must be deleted by hand.

use std::path::PathBuf;

fn main() -> std::io::Result<()> {
    let committed = concat!(env!("CARGO_MANIFEST_DIR"), "/../../vault-example");
    let folder = std::env::args_os().nth(1).map_or_else(|| PathBuf::from(committed), PathBuf::from);
    taperbook_testkit::demo::write(&folder)
}
