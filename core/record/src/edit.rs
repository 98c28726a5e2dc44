//! Where a new item of a bench goes into a file, and whether only that changed.
//!
//! Nothing is written here: the caller gets the text and decides.

mod flow;
mod place;
mod verify;

pub use verify::verify;

use crate::read::keys::MAPS;
use crate::source::Problems;
use crate::yaml::{self, Node, Value};
use crate::{Content, Problem, front, read, source};

/// What to insert into a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Insertion {
    /// The byte at which it goes in.
    pub at: usize,
    /// The text that goes in.
    pub text: String,
    /// The whole file afterwards.
    pub result: String,
    /// What is doubtful about the new item where it stands, such as a cut that takes a third of the blank.
    pub doubts: Vec<Problem>,
}

/// Why an item can't be added to a bench.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum EditError {
    /// The file is not a build, so it has no bench.
    NotABuild,
    /// The item itself is badly written.
    Item(String),
    /// What stands after `bench:` is no list.
    NoList,
    /// The front matter is written in braces and has no bench yet.
    Braces,
    /// With the item in it, the file would say something else than before as well.
    ChangesMore(String),
}

impl std::fmt::Display for EditError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            EditError::NotABuild => f.write_str("the file is not a build: only a build (`kind: build`) has a bench"),
            EditError::Item(message) => write!(f, "the new item can't be read back: {message}"),
            EditError::NoList => {
                f.write_str("what stands after `bench:` is no list: begin each of its items with `- ` and try again")
            }
            EditError::Braces => {
                f.write_str("the front matter is written in braces: write `bench: []` into it and try again")
            }
            EditError::ChangesMore(what) => write!(
                f,
                "nothing was written, because the new item would change {what} too: mend the problems of the file, or write the item by hand"
            ),
        }
    }
}

impl std::error::Error for EditError {}

/// Finds where one item goes at the end of a build's bench, such as `- cut: { tip: 1 in }`.
///
/// The item may have several lines and may lack its dash.
/// It takes on the file's indentation, line ends and style, and the file's own bytes stay as they are.
/// The result has passed [`verify`].
///
/// # Errors
/// When the file is no build, the item can't be read by itself, or more than the one item would change.
pub fn append_item(path: &str, text: &str, item: &str) -> Result<Insertion, EditError> {
    let before = read(path, text.as_bytes());
    let Content::Build(_) = before.record.content else { return Err(EditError::NotABuild) };
    let item = NewItem::new(item)?;
    let mut unheard = Problems::default();
    let source = source::text(text.as_bytes(), &mut unheard);
    let front = front::split(&source, &mut unheard).front.ok_or(EditError::NotABuild)?;
    let root = yaml::parse(&source, front.clone(), &MAPS, &mut unheard);
    let Value::Map(map) = &root.value else { return Err(EditError::NotABuild) };
    let place::Place { at, text: inserted } = place::place(&source, &front, &root, map, &item)?;
    let result = format!("{}{inserted}{}", &text[..at], &text[at..]);
    verify(path, text, &result, &item.text())?;
    let known: Vec<&str> = before.problems.iter().map(|problem| problem.message.as_str()).collect();
    let mut doubts = read(path, result.as_bytes()).problems;
    doubts.retain(|problem| !known.contains(&problem.message.as_str()));
    Ok(Insertion { at, text: inserted, result, doubts })
}

/// An item that reads well by itself.
struct NewItem {
    /// Its lines, the first one with its dash.
    lines: Vec<String>,
}

impl NewItem {
    fn new(written: &str) -> Result<Self, EditError> {
        let written = written.trim_end().trim_start_matches(['\n', '\r', ' ']);
        let dashed = if written.starts_with("- ") {
            written.to_owned()
        } else {
            format!("- {}", written.replace('\n', "\n  "))
        };
        let lines: Vec<String> = dashed.lines().map(|line| line.trim_end().to_owned()).collect();
        let alone = format!("---\nkind: build\nblank: any\nbench:\n{}\n---\n", lines.join("\n"));
        let parsed = read("any.md", alone.as_bytes());
        if let Some(problem) = parsed.problems.first() {
            return Err(EditError::Item(problem.message.clone()));
        }
        // Lines that end the bench would otherwise pass as other keys of the file.
        let item = Self { lines };
        let text = item.text();
        let mut problems = Problems::default();
        let root = yaml::parse(&text, 0..text.len(), &MAPS, &mut problems);
        match only_item(&root) {
            Some(_) if problems.count() == 0 => Ok(item),
            _ => Err(EditError::Item("write one item, such as `- cut: { tip: 1 in }`".to_owned())),
        }
    }

    /// Its text as a list of one.
    fn text(&self) -> String {
        self.lines.join("\n") + "\n"
    }
}

/// The one item of a list.
fn only_item<'n, 's>(root: &'n Node<'s>) -> Option<&'n Node<'s>> {
    match &root.value {
        Value::List(list) if list.items.len() == 1 => Some(&list.items[0].node),
        _ => None,
    }
}
