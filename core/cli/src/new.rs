//! `new`: a file to fill in, for a blank card, a build or a fitting.

use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Write};

use serde_json::json;
use taperbook_engine::{Answer, Request};
use taperbook_record::{Kind, ScalarPlace, scalar, template};

use crate::failure::Failure;
use crate::new_args::{NewArgs, NewKind};
use crate::new_brief;
use crate::run::{Context, Done};
use crate::style::{CARE, FAINT, GOOD, clean, paint, typed};

/// The longest name of a file, in bytes, that leaves room for what editors add to it.
const LONGEST_NAME: usize = 120;

/// Makes the file; one that exists is left alone.
pub(crate) fn new(context: &Context, arguments: &NewArgs) -> Result<Done, Failure> {
    let (directory, kind) = match arguments.kind {
        NewKind::Blank => ("blanks", Kind::Blank),
        NewKind::Build => ("builds", Kind::Build),
        NewKind::Fitting => ("fittings", Kind::Fitting),
        NewKind::Offcut => ("offcuts", Kind::Offcut),
    };
    new_brief::belongs(arguments)?;
    let name = stem(&arguments.name)?;
    let path = format!("{directory}/{name}.md");
    let mut text = template(kind, name, Some(today()), context.setting.units);
    if let Some(blank) = &arguments.blank {
        let blank = named(context, blank, Kind::Blank)?;
        text = new_brief::filled(&text, "blank", &scalar(&blank, ScalarPlace::Line));
    }
    if let Some(from) = &arguments.from {
        let from = named(context, from, Kind::Build)?;
        text = new_brief::filled(&text, "from", &scalar(&from, ScalarPlace::Line));
    }
    text = new_brief::fill(&text, arguments)?;
    write(context, directory, &path, &text)?;
    let to_fill = taperbook_record::read(&path, text.as_bytes()).problems.len();
    let value = json!({ "record": format!("{directory}/{name}"), "path": path });
    context.print(&value, |_| printed(&context.shown_path(&path), to_fill))?;
    Ok(Done::Well)
}

fn today() -> jiff::civil::Date {
    jiff::ZonedDateTime::now().date()
}

/// Gives the name of a record of a kind that is there.
fn named(context: &Context, typed: &str, kind: Kind) -> Result<String, Failure> {
    let found = match context.ask(&Request::Show { record: context.record(typed) })? {
        Answer::Show(answer) => answer,
        _ => return Err(Failure::new("the daemon answered another question")),
    };
    if found.kind != kind.word() {
        let (what, plural) = match kind {
            Kind::Blank => ("blank card", "cards"),
            _ => ("build", "builds"),
        };
        let word = kind.word();
        return Err(Failure::new(format!("`{}` is a {} and no {what}", found.record, found.kind))
            .hint(format!(
                "`taperbook find kind:{word}` lists the {plural}; `taperbook new {word} NAME` makes one"
            )));
    }
    let is_stem = found.record.rsplit('/').next() == Some(typed);
    Ok(if is_stem { typed.to_owned() } else { found.record })
}

fn printed(path: &str, to_fill: usize) -> String {
    let mut text = format!("{} {}\n", paint(GOOD, "made"), clean(path));
    if to_fill > 0 {
        text.push_str(&format!(
            "{}\n",
            paint(CARE, "fill it in with your editor; what is still missing:")
        ));
        text.push_str(&format!(
            "  {}\n",
            paint(FAINT, &format!("taperbook check {}", typed(path)))
        ));
    }
    text
}

/// Gives the stem of the file that a name stands for.
///
/// # Errors
/// When it could not be a file of that directory that is read as a record.
fn stem(name: &str) -> Result<&str, Failure> {
    let stem = name.strip_suffix(".md").unwrap_or(name).trim();
    let why = if stem.is_empty() {
        "is empty"
    } else if stem.contains(['/', '\\']) {
        "holds a slash, and the directory is chosen by what it is"
    } else if stem.chars().any(char::is_control) {
        "holds a control character"
    } else if LONGEST_NAME < stem.len() {
        "is too long for a file"
    } else if !taperbook_folder::is_record(format!("{stem}.md")) {
        "would be passed over, as are hidden files and what editors leave behind"
    } else if taperbook_folder::is_conflict_copy(format!("{stem}.md")) {
        "would be taken for a copy that a sync tool made"
    } else {
        return Ok(stem);
    };
    Err(Failure::new(format!("the name `{name}` {why}: write one such as `heron-704`")))
}

fn write(context: &Context, directory: &str, path: &str, text: &str) -> Result<(), Failure> {
    let shown = context.shown_path(path);
    let failed = |error: std::io::Error| match error.kind() {
        ErrorKind::AlreadyExists => {
            Failure::new(format!("`{shown}` exists already, and is left as it is"))
                .hint("choose another name, or open it with your editor")
        }
        _ => Failure::new(format!("`{shown}` could not be made: {error}")),
    };
    fs::create_dir_all(context.folder().join(directory)).map_err(failed)?;
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(context.folder().join(path))
        .map_err(failed)?;
    file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_the_stem_of_a_file_that_is_read() {
        for (name, expected) in
            [("heron-704", "heron-704"), ("Søren's heron.md", "Søren's heron"), (" a ", "a")]
        {
            assert_eq!(stem(name), Ok(expected));
        }
        for (name, why) in [
            ("", "is empty"),
            (".md", "is empty"),
            ("../ilse", "holds a slash"),
            ("a\\b", "holds a slash"),
            (".hidden", "would be passed over"),
            ("~$ilse", "would be passed over"),
            ("a\nb", "holds a control character"),
            ("ilse (conflicted copy 2026-03-01)", "would be taken for a copy"),
            (&"x".repeat(200), "is too long"),
        ] {
            let printed = stem(name).unwrap_err().print();
            assert!(printed.contains(why), "{printed}");
        }
    }
}
