//! `log`: one more item at the end of a build's bench, and what that raised.

use serde::Serialize;
use taperbook_engine::{Answer, FlagAnswer, Request, ShowAnswer};

use crate::failure::Failure;
use crate::log_args::{LogAction, LogArgs};
use crate::log_item;
use crate::log_undo;
use crate::render::{Setting, flags};
use crate::run::{Context, Done};
use crate::style::{BAD, CARE, FAINT, GOOD, clean, clean_lines, paint, typed};

/// What was logged, as JSON says it.
#[derive(Debug, Serialize)]
struct Logged {
    /// The record's id.
    record: String,
    /// Its path in the shop folder.
    path: String,
    /// The line of the new item, from 1.
    line: usize,
    /// The text that was inserted.
    inserted: String,
    /// What is doubtful about it as it is written, such as a cut that takes a third of the blank.
    doubts: Vec<String>,
    /// The flags that were not there before it.
    new_flags: Vec<FlagAnswer>,
    /// All flags of the record now; `null` when they could not be worked out.
    flags: Option<Vec<FlagAnswer>>,
}

/// Writes one item at the end of a build's bench.
pub(crate) fn log(context: &Context, arguments: &LogArgs) -> Result<Done, Failure> {
    let before = show(context, &arguments.record)?;
    if let LogAction::Undo = arguments.action {
        return log_undo::undo(context, &before.record, &before.path, arguments.preview);
    }
    let item = log_item::item(&arguments.action, jiff::ZonedDateTime::now().date())?;
    if before.kind != "build" {
        let message = format!("`{}` is a {}: only a build has a bench", before.record, before.kind);
        return Err(Failure::new(message).hint("`taperbook find kind:build` lists the builds"));
    }
    if arguments.preview {
        return preview(context, &before, &item);
    }
    let appended = taperbook_edit::append(context.folder(), &before.path, &item)?;
    // What can't be kept can't be taken back by `undo`, and is written all the same.
    let kept = log_undo::keep(context, &before.record, &appended);

    // The item is written whatever comes after it, so that a question that fails is no failure of the log.
    let after = show(context, &before.record);
    let now = after.as_ref().ok().map(|after| after.flags.clone());
    let is_new = |flag: &&FlagAnswer| {
        !before.flags.iter().any(|old| old.flag == flag.flag && old.message == flag.message)
    };
    let logged = Logged {
        record: before.record,
        path: before.path,
        line: appended.line,
        inserted: appended.inserted,
        doubts: appended.doubts,
        new_flags: now.iter().flatten().filter(is_new).cloned().collect(),
        flags: now,
    };
    context.print(&logged, |logged| printed(&context.setting, logged, &arguments.action))?;
    if let Err(failure) = kept {
        context.screen.note(&failure.print());
    }
    if let Err(failure) = after {
        context.screen.note(&format!(
            "it is written, but its flags could not be worked out:\n{}",
            failure.print()
        ));
    }
    Ok(Done::Well)
}

/// What would be written, as JSON says it.
#[derive(Debug, Serialize)]
struct Previewed {
    /// The record's id.
    record: String,
    /// Its path in the shop folder.
    path: String,
    /// The line of the new item, from 1.
    line: usize,
    /// The text that would be inserted.
    would_insert: String,
    /// What is doubtful about it as it is written.
    doubts: Vec<String>,
    /// The flags that it would raise.
    new_flags: Vec<FlagAnswer>,
}

/// Shows what would be written and what that would raise.
fn preview(context: &Context, before: &ShowAnswer, item: &str) -> Result<Done, Failure> {
    let shown = taperbook_edit::preview(context.folder(), &before.path, item)?;
    let check = Request::CheckText { path: before.path.clone(), text: shown.text().to_owned() };
    let Answer::Check(check) = context.ask(&check)? else {
        return Err(Failure::new("the daemon answered another question"));
    };
    let is_new = |flag: &FlagAnswer| {
        !before.flags.iter().any(|old| old.flag == flag.flag && old.message == flag.message)
    };
    let previewed = Previewed {
        record: before.record.clone(),
        path: before.path.clone(),
        line: shown.line,
        would_insert: shown.inserted,
        doubts: shown.doubts,
        new_flags: check.flags.into_iter().filter(is_new).collect(),
    };
    context.print(&previewed, |previewed| {
        let Previewed { path, line, would_insert, doubts, new_flags, .. } = previewed;
        let place = clean(&format!("{}{path}:{line}", context.setting.prefix));
        let head = format!("{} {place}", paint(CARE, "would be written at"));
        inserted(&context.setting, &head, would_insert, doubts, new_flags, "this would raise:")
            + "nothing was written\n"
    })?;
    Ok(Done::Well)
}

fn show(context: &Context, record: &str) -> Result<ShowAnswer, Failure> {
    match context.ask(&Request::Show { record: context.record(record) })? {
        Answer::Show(answer) => Ok(*answer),
        _ => Err(Failure::new("the daemon answered another question")),
    }
}

fn printed(setting: &Setting, logged: &Logged, action: &LogAction) -> String {
    let place = clean(&format!("{}{}:{}", setting.prefix, logged.path, logged.line));
    let mut text = inserted(
        setting,
        &format!("{} {place}", paint(GOOD, "written at")),
        &logged.inserted,
        &logged.doubts,
        &logged.new_flags,
        "this raised:",
    );
    if let LogAction::Cut { .. } = action {
        let words = "before the next cut, read its length and its power again:";
        let command =
            format!("taperbook log {} read --length LENGTH --power WEIGHT", typed(&logged.record));
        text.push_str(&format!("\n{}\n  {}\n", paint(CARE, words), paint(FAINT, &command)));
    }
    if let LogAction::Cut { ends, keep: true, .. } = action {
        let stem = logged.record.rsplit('/').next().unwrap_or(&logged.record);
        for (end, _) in
            [("tip", &ends.tip), ("butt", &ends.butt)].iter().filter(|(_, cut)| cut.is_some())
        {
            let name = typed(&format!("{stem}-{end}"));
            let from = typed(&logged.record);
            let command = format!("taperbook new offcut {name} --from {from} --end {end}");
            text.push_str(&format!(
                "\n{}\n  {}\n",
                paint(CARE, "the offcut's own record:"),
                paint(FAINT, &command)
            ));
        }
    }
    text
}

/// Prints the place of an item, its text, and what is to be said of it.
fn inserted(
    setting: &Setting,
    head: &str,
    item: &str,
    doubts: &[String],
    new_flags: &[FlagAnswer],
    raised: &str,
) -> String {
    let mut text = format!("{head}\n");
    for line in clean_lines(item.trim_matches(['\n', '\r'])).lines() {
        text.push_str(&format!("{}\n", line.trim_end()));
    }
    for doubt in doubts {
        text.push_str(&format!("\n{} {}\n", paint(CARE, "look again:"), clean(doubt)));
    }
    if !new_flags.is_empty() {
        text.push_str(&format!("\n{}\n{}", paint(BAD, raised), flags::list(setting, new_flags)));
    }
    text
}

#[cfg(test)]
mod tests {
    use clap::Parser;
    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    #[derive(Debug, Parser)]
    struct Log {
        #[command(flatten)]
        log: LogArgs,
    }

    fn logged(new_flags: Vec<FlagAnswer>) -> Logged {
        Logged {
            record: "builds/per-heron".to_owned(),
            path: "builds/per-heron.md".to_owned(),
            line: 12,
            inserted: "\n  - cut: { tip: 1 in, date: 2026-03-15 }\n".to_owned(),
            doubts: vec![
                "the cut takes a third of the blank: did you mean `1 mm`?".to_owned();
                new_flags.len()
            ],
            flags: Some(new_flags.clone()),
            new_flags,
        }
    }

    #[test]
    fn a_cut_asks_for_the_readings_after_it_and_tells_what_it_raised() {
        let arguments =
            Log::try_parse_from(["log", "per", "cut", "--tip", "1in"]).expect("arguments");
        let printed = printed(
            &Setting::default(),
            &logged(sample::flags().split_off(1)),
            &arguments.log.action,
        );
        sample::check(
            &printed,
            expect![[r#"
            written at builds/per-heron.md:12
              - cut: { tip: 1 in, date: 2026-03-15 }

            look again: the cut takes a third of the blank: did you mean `1 mm`?

            this raised:
            above-most-power  builds/per-heron.md:12:5
              268 g read, 8 g above the most that Per allows

            before the next cut, read its length and its power again:
              taperbook log builds/per-heron read --length LENGTH --power WEIGHT
        "#]],
        );
    }

    #[test]
    fn a_reading_asks_for_nothing() {
        let arguments =
            Log::try_parse_from(["log", "per", "read", "--power", "224g"]).expect("arguments");
        let setting = Setting { prefix: "shop/".to_owned(), ..Setting::default() };
        let printed = printed(&setting, &logged(Vec::new()), &arguments.log.action);
        sample::check(
            &printed,
            expect![[r#"
            written at shop/builds/per-heron.md:12
              - cut: { tip: 1 in, date: 2026-03-15 }
        "#]],
        );
    }
}
