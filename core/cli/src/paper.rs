//! Drawings and pages into files of their own, and never over a record or a file that somebody else made.

use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::Path;

use crate::failure::Failure;

/// Refuses what is no name for such a file, and a file that somebody else may have made.
pub(crate) fn may_be_written(
    path: &Path,
    shown: &Path,
    ending: &str,
    force: bool,
) -> Result<(), Failure> {
    let failed_to = shown;
    let shown = shown.display();
    if !path.extension().is_some_and(|end| end.eq_ignore_ascii_case(ending)) {
        return Err(Failure::new(format!(
            "`{shown}` does not end in `.{ending}`: name a file such as `heron.{ending}`"
        )));
    }
    let failed = |error: std::io::Error| unwritten(failed_to, &error);
    match fs::symlink_metadata(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
        Err(error) => Err(failed(error)),
        // What a link leads to may be a record.
        Ok(metadata) if !metadata.is_file() => {
            Err(Failure::new(format!("`{shown}` is there and is no plain file: name another one")))
        }
        Ok(_) if force => Ok(()),
        Ok(_) if taperbook_draw::is_ours(&fs::read(path).map_err(failed)?) => Ok(()),
        Ok(_) => Err(Failure::new(format!("`{shown}` is there and was not drawn by this command"))
            .hint("name another file, or replace it with `--force`")),
    }
}

/// Writes the text beside its place and renames it there, so that no half of one is ever seen.
pub(crate) fn write(path: &Path, shown: &Path, text: &str) -> Result<(), Failure> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let beside = path.with_file_name(format!(".{name}.{}.tmp", std::process::id()));
    let written = File::create_new(&beside)
        .and_then(|mut file| file.write_all(text.as_bytes()))
        .and_then(|()| fs::rename(&beside, path));
    written.map_err(|error| {
        // The first error is the one that matters; a left-over is hidden and never read.
        let _ = fs::remove_file(&beside);
        unwritten(shown, &error)
    })
}

fn unwritten(shown: &Path, error: &std::io::Error) -> Failure {
    let why = match error.kind() {
        ErrorKind::NotFound => "the folder that it is to be in is not there".to_owned(),
        _ => error.to_string(),
    };
    Failure::new(format!("`{}` can't be written: {why}", shown.display()))
}
