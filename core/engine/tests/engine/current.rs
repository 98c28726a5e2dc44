//! Where an engine keeps what it has; shared by the test binaries.

use std::path::{Path, PathBuf};

/// The directory of index and ledger.
pub(crate) fn current(state: &Path) -> PathBuf {
    state.join(std::fs::read_to_string(state.join("current")).unwrap())
}
