//! Which shop folder is meant, and which plugins work on it; no file is touched here.

use std::path::PathBuf;

use taperbook_plugin::Plugin;

/// A shop folder with what is needed to watch it or ask about it.
#[derive(Debug, Clone)]
pub struct Shop {
    /// The shop folder, as it was named; it must exist.
    pub folder: PathBuf,
    /// The directory that stands for the platform's state directory of this program, in which each shop folder
    /// gets a directory of its own; `None` for the platform's.
    pub state_dir: Option<PathBuf>,
    /// Makes the plugins; a function, since the engine owns what it makes and a question may open an engine anew.
    pub plugins: fn() -> Vec<Box<dyn Plugin>>,
}

/// A shop folder of so many notes with its state beside it, for a test, whose directory goes with what is given.
#[cfg(test)]
pub(crate) fn shop_of(n_notes: usize) -> (tempfile::TempDir, Shop) {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("shop");
    std::fs::create_dir(&folder).unwrap();
    for at in 0..n_notes {
        std::fs::write(folder.join(format!("{at}.md")), "whipping\n").unwrap();
    }
    let shop = Shop { folder, state_dir: Some(home.path().join("state")), plugins: Vec::new };
    (home, shop)
}
