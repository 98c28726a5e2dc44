//! One item more at the end of a build's bench, and taking it back: the only code that changes a file of the shop folder.
//!
//! Where in the text an item goes, and whether only that changed, is the record crate's; here the file is read, replaced as
//! a whole and read back, and never when somebody else has written it meanwhile.
//! It knows no index and asks nobody.
//!
//! ```
//! let folder = tempfile::tempdir()?;
//! std::fs::write(folder.path().join("ilse.md"), "---\nkind: build\nblank: heron\nbench:\n---\n")?;
//! let appended = taperbook_edit::append(folder.path(), "ilse.md", "cut: { tip: 1 in }")?;
//! assert_eq!((appended.line, appended.inserted.trim_end()), (5, "  - cut: { tip: 1 in }"));
//! taperbook_edit::take_back(folder.path(), &appended)?;
//! assert_eq!(std::fs::read_to_string(folder.path().join("ilse.md"))?, "---\nkind: build\nblank: heron\nbench:\n---\n");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod append;
mod file;

pub use append::{Appended, append, preview, take_back};

/// Why a file was not changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EditFailure {
    /// A lower-case fragment that names the file.
    pub message: String,
    /// What to do about it.
    pub hint: Option<String>,
}

impl EditFailure {
    fn new(message: impl Into<String>) -> Self {
        Self { message: message.into(), hint: None }
    }

    fn hint(self, hint: &str) -> Self {
        Self { hint: Some(hint.to_owned()), ..self }
    }
}

impl std::fmt::Display for EditFailure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for EditFailure {}
