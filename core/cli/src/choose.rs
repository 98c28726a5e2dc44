//! `choose`: a brief put to the blanks of the shop, or one blank and the rods that it could be.
//!
//! What is drawn goes into a file of its own, and never over a record.

use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::Path;

use taperbook_engine::{Answer, Request};
use taperbook_units::Length;

use crate::choose_args::ChooseArgs;
use crate::failure::Failure;
use crate::run::{Context, Done};
use crate::style::clean;

/// Asks, draws where that was asked for, and prints.
pub(crate) fn choose(context: &Context, arguments: &ChooseArgs) -> Result<Done, Failure> {
    let (aim, limits) = (arguments.aim.clone(), arguments.limits.clone());
    let held_at_mm = arguments.held_at.map(Length::mm);
    let Some(from) = &arguments.from else {
        return context.question(&Request::Choose {
            aim,
            limits,
            build: arguments.build.as_ref().map(|build| context.record(build)),
            use_words: arguments.use_words.clone(),
            held_at_mm,
            in_stock: arguments.in_stock,
            limit: arguments.limit,
        });
    };
    if let Some(svg) = &arguments.svg {
        may_be_drawn(&context.here().join(svg), svg, arguments.force)?;
    }
    let record = context.record(from);
    let answer = context.ask(&Request::Reach { record, aim, limits, held_at_mm })?;
    if let (Some(svg), Answer::Reach(advice)) = (&arguments.svg, &answer) {
        let text = taperbook_draw::reach(advice, context.setting.units);
        write(&context.here().join(svg), svg, &text)?;
    }
    context.answer(&answer)?;
    if let Some(svg) = &arguments.svg {
        context.screen.note(&format!("drawn into {}\n", clean(&svg.display().to_string())));
    }
    Ok(Done::Well)
}

/// Refuses what is no name for a drawing, and a file that somebody else may have made.
fn may_be_drawn(path: &Path, shown: &Path, force: bool) -> Result<(), Failure> {
    let shown = shown.display();
    let is_svg = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("svg"));
    if !is_svg {
        return Err(Failure::new(format!(
            "`{shown}` does not end in `.svg`: name a file such as `heron.svg`"
        )));
    }
    let failed = |error: std::io::Error| Failure::new(format!("`{shown}` can't be drawn: {error}"));
    match fs::symlink_metadata(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
        Err(error) => Err(failed(error)),
        // What a link leads to may be a record.
        Ok(metadata) if !metadata.is_file() => Err(Failure::new(format!(
            "`{shown}` is there and is no plain file: name another one for the drawing"
        ))),
        Ok(_) if force => Ok(()),
        Ok(_) if taperbook_draw::is_ours(&fs::read(path).map_err(failed)?) => Ok(()),
        Ok(_) => Err(Failure::new(format!("`{shown}` is there and was not drawn by this command"))
            .hint("name another file, or replace it with `--force`")),
    }
}

/// Writes the drawing beside its place and renames it there, so that no half of one is ever seen.
fn write(path: &Path, shown: &Path, text: &str) -> Result<(), Failure> {
    let failed = |error: std::io::Error| {
        Failure::new(format!("`{}` can't be drawn: {error}", shown.display()))
    };
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let beside = path.with_file_name(format!(".{name}.{}.tmp", std::process::id()));
    let written = File::create_new(&beside)
        .and_then(|mut file| file.write_all(text.as_bytes()))
        .and_then(|()| fs::rename(&beside, path));
    written.map_err(|error| {
        // The first error is the one that matters; a left-over is hidden and never read.
        let _ = fs::remove_file(&beside);
        failed(error)
    })
}
