//! `log RECORD undo`: the last item that `log` wrote, taken back.
//!
//! What was written is kept in the state directory, whole and with the text before it, so that what is put back is exactly what was
//! there; a file that anybody has changed since is left alone.

use std::fs;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use serde_json::json;
use taperbook_edit::Appended;

use crate::failure::Failure;
use crate::run::{Context, Done};
use crate::style::{CARE, GOOD, clean, clean_lines, paint};

/// So many items can be taken back, one after the other.
const MOST_KEPT: usize = 20;

/// What `log` wrote into a record.
#[derive(Debug, Serialize, Deserialize)]
struct Kept {
    record: String,
    appended: Appended,
}

/// Keeps what was written.
///
/// # Errors
/// When the state directory can't be used.
pub(crate) fn keep(context: &Context, record: &str, appended: &Appended) -> Result<(), Failure> {
    let mut all = read(context)?;
    all.push(Kept { record: record.to_owned(), appended: appended.clone() });
    let n_old = all.len().saturating_sub(MOST_KEPT);
    all.drain(..n_old);
    write(context, &all)
}

/// Takes the last item of a record back.
///
/// # Errors
/// When nothing was written into it, or its file has changed since; it is left as it is then.
pub(crate) fn undo(
    context: &Context,
    record: &str,
    path: &str,
    only_show: bool,
) -> Result<Done, Failure> {
    let mut all = read(context)?;
    let Some(last) = all.iter().rposition(|kept| kept.record == record) else {
        let message = format!("`log` has written nothing into `{record}` that could be taken back");
        return Err(Failure::new(message).hint("it remembers the last items that it wrote itself"));
    };
    let Appended { line, inserted, .. } = &all[last].appended;
    let (line, inserted) = (*line, inserted.clone());
    if !only_show {
        taperbook_edit::take_back(context.folder(), &all[last].appended)?;
        all.remove(last);
        write(context, &all)?;
    }
    let value = json!({
        "record": record,
        "path": path,
        "line": line,
        "taken_back": inserted,
        "written": !only_show,
    });
    let words = if only_show {
        paint(CARE, "would be taken back from")
    } else {
        paint(GOOD, "taken back from")
    };
    context.print(&value, |_| {
        let place = clean(&format!("{}:{line}", context.shown_path(path)));
        let item = clean_lines(inserted.trim_matches(['\n', '\r']));
        let ending = if only_show { "nothing was written\n" } else { "" };
        format!("{words} {place}\n{}\n{ending}", item.trim_end())
    })?;
    Ok(Done::Well)
}

fn file(context: &Context) -> Result<PathBuf, Failure> {
    Ok(context.state_dir()?.join("logged.json"))
}

fn read(context: &Context) -> Result<Vec<Kept>, Failure> {
    // A file that another version wrote is as good as none: nothing is lost by it but what could be taken back.
    let bytes = fs::read(file(context)?).unwrap_or_default();
    Ok(serde_json::from_slice(&bytes).unwrap_or_default())
}

fn write(context: &Context, all: &[Kept]) -> Result<(), Failure> {
    let path = file(context)?;
    let failed = |error: &dyn std::fmt::Display| {
        Failure::new(format!("what `undo` would need could not be kept: {error}"))
    };
    let text = serde_json::to_string(all).map_err(|error| failed(&error))?;
    let beside = path.with_extension(format!("{}.tmp", std::process::id()));
    fs::write(&beside, text)
        .and_then(|()| fs::rename(&beside, &path))
        .map_err(|error| failed(&error))
}
