//! Adding an item, showing how it would read, and taking it back.

use std::path::Path;

use serde::{Deserialize, Serialize};
use taperbook_record::append_item;

use crate::EditFailure;
use crate::file::{Opened, open};

/// What was added.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Appended {
    /// The path in the shop folder.
    pub path: String,
    /// The line on which the new item begins, from 1.
    pub line: usize,
    /// The text that was inserted.
    pub inserted: String,
    /// What is doubtful about it as it stands, such as a cut that takes a third of the blank.
    pub doubts: Vec<String>,
    /// The whole file before and after.
    before: String,
    after: String,
}

/// Adds one item, such as `cut: { tip: 1 in }`, at the end of a build's bench.
///
/// # Errors
/// When the file is no build, the item can't be read back, or the file can't be changed; nothing was written then.
pub fn append(folder: &Path, path: &str, item: &str) -> Result<Appended, EditFailure> {
    let opened = open(folder, path)?;
    let appended = appended(&opened, path, item)?;
    opened.replace(&appended.after)?;
    Ok(appended)
}

/// Gives what [`append`] would do, and writes nothing.
///
/// # Errors
/// As for [`append`], as far as reading shows it.
pub fn preview(folder: &Path, path: &str, item: &str) -> Result<Appended, EditFailure> {
    appended(&open(folder, path)?, path, item)
}

impl Appended {
    /// The whole text with the item in it.
    pub fn text(&self) -> &str {
        &self.after
    }
}

fn appended(opened: &Opened, path: &str, item: &str) -> Result<Appended, EditFailure> {
    let before = opened.text()?.to_owned();
    let insertion =
        append_item(path, &before, item).map_err(|error| EditFailure::new(error.to_string()))?;
    Ok(Appended {
        path: path.to_owned(),
        line: line_of(&insertion.result, insertion.at, &insertion.text),
        inserted: insertion.text,
        doubts: insertion.doubts.into_iter().map(|doubt| doubt.message).collect(),
        before,
        after: insertion.result,
    })
}

/// Takes back what was added, as long as nobody has changed the file since.
///
/// # Errors
/// When the file is another one by now or can't be changed; it is left as it is then.
pub fn take_back(folder: &Path, appended: &Appended) -> Result<(), EditFailure> {
    let opened = open(folder, &appended.path)?;
    if opened.text()? != appended.after {
        let message = format!("`{}` was changed since, and nothing was taken back", appended.path);
        return Err(EditFailure::new(message).hint("delete the line by hand"));
    }
    opened.replace(&appended.before)
}

/// Gives the line, from 1, on which what was inserted begins to say something.
fn line_of(text: &str, at: usize, inserted: &str) -> usize {
    let blank = inserted.len() - inserted.trim_start().len();
    text.as_bytes().iter().take(at + blank).filter(|byte| **byte == b'\n').count() + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_is_that_of_the_item_and_not_of_the_break_before_it() {
        let text = "a\nbench:\n  - cut: x\n";
        assert_eq!(line_of(text, 8, "\n  - cut: x"), 3);
        assert_eq!(line_of(text, 9, "  - cut: x\n"), 3);
        assert_eq!(line_of("a", 0, "a"), 1);
    }

    #[test]
    fn what_somebody_changed_since_is_not_taken_back() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("ilse.md");
        std::fs::write(&path, "---\nkind: build\nblank: heron\n---\n").expect("a file");
        let appended = append(folder.path(), "ilse.md", "cut: { tip: 1 in }").expect("it is added");
        let theirs = std::fs::read_to_string(&path).expect("it reads") + "theirs\n";
        std::fs::write(&path, &theirs).expect("a write");
        let failure = take_back(folder.path(), &appended).expect_err("it is refused");
        assert!(failure.message.contains("was changed since"), "{failure}");
        assert_eq!(std::fs::read_to_string(&path).expect("it reads"), theirs);
    }

    #[test]
    fn a_preview_writes_nothing_and_says_what_would_be_written() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("ilse.md");
        let text = "---\nkind: build\nblank: heron\n---\n";
        std::fs::write(&path, text).expect("a file");
        let shown = preview(folder.path(), "ilse.md", "cut: { tip: 1 in }").expect("it is shown");
        assert_eq!(std::fs::read_to_string(&path).expect("it reads"), text);
        let written = append(folder.path(), "ilse.md", "cut: { tip: 1 in }").expect("it is added");
        assert_eq!(shown, written);
        assert_eq!(std::fs::read_to_string(&path).expect("it reads"), shown.text());
    }

    #[test]
    fn a_path_that_leads_out_is_refused() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let inside = folder.path().join("shop");
        std::fs::create_dir(&inside).expect("a directory");
        std::fs::write(folder.path().join("out.md"), "---\nkind: build\n---\n").expect("a file");
        let failure =
            append(&inside, "../out.md", "cut: { tip: 1 in }").expect_err("it is refused");
        assert!(failure.message.contains("leads out of the shop folder"), "{failure}");
    }
}
