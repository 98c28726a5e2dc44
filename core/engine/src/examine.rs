//! Runs the plugins on one record; a plugin's panic is a finding, never the end of the engine.

use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};

use taperbook_plugin::{Finding, FlagSpec, NumberSet, Plugin, Read, Source, View};
use taperbook_record::Record;

/// What the first stage gave.
pub(crate) struct Numbers {
    pub(crate) numbers: NumberSet,
    pub(crate) reads: BTreeSet<Read>,
    pub(crate) failed: Vec<Finding>,
}

/// Flags of the engine's own.
pub(crate) const ENGINE_FLAGS: [FlagSpec; 2] = [
    FlagSpec {
        name: "plugin-failed",
        finds: "a plugin stopped working while it looked at this record",
        why: "its numbers or flags are missing here, so a clean record may not be clean",
        example: "a plugin that divides by a length that nobody has measured",
    },
    FlagSpec {
        name: "conflict-copy",
        finds: "a file whose name says that a sync tool kept two versions of a record side by side",
        why: "the same cut may be logged in one of them and missing in the other; nothing is merged for you",
        example: "`ilse-heron (conflicted copy 2026-03-15).md` beside `ilse-heron.md`: keep what is right and delete one",
    },
];

/// Runs the first stage on a record.
pub(crate) fn numbers(
    plugins: &[Box<dyn Plugin>],
    record: &Record,
    source: &dyn Source,
) -> Numbers {
    let view = View::new(source);
    let mut all = Vec::new();
    let mut failed = Vec::new();
    for plugin in plugins {
        match guarded(&**plugin, |plugin| plugin.numbers(record, &view)) {
            Ok(numbers) => all.extend(numbers),
            Err(finding) => failed.push(finding),
        }
    }
    Numbers { numbers: NumberSet::new(all), reads: view.into_reads(), failed }
}

/// Runs the first stage on a record for somebody who keeps no account of what was read.
pub(crate) fn numbers_of(plugins: &[Box<dyn Plugin>], record: &Record, view: &View) -> NumberSet {
    let all = plugins
        .iter()
        .filter_map(|plugin| guarded(&**plugin, |plugin| plugin.numbers(record, view)).ok());
    NumberSet::new(all.flatten().collect())
}

/// Runs the second stage on a record.
pub(crate) fn flags(
    plugins: &[Box<dyn Plugin>],
    record: &Record,
    source: &dyn Source,
) -> (Vec<Finding>, BTreeSet<Read>) {
    let view = View::new(source);
    let mut found = Vec::new();
    if record.conflict_copy {
        found.push(Finding {
            flag: "conflict-copy".to_owned(),
            message: format!("`{}` looks like a conflict copy that a sync tool made: keep one and delete the other", record.id),
            span: None,
        });
    }
    for plugin in plugins {
        match guarded(&**plugin, |plugin| plugin.flags(record, &view)) {
            Ok(flags) => found.extend(flags),
            Err(finding) => found.push(finding),
        }
    }
    found.sort_by(|a, b| {
        let start = |finding: &Finding| finding.span.as_ref().map_or(0, |span| span.start);
        start(a).cmp(&start(b)).then_with(|| a.flag.cmp(&b.flag))
    });
    (found, view.into_reads())
}

/// Calls a plugin; its panic becomes a finding.
pub(crate) fn guarded<T>(
    plugin: &dyn Plugin,
    call: impl FnOnce(&dyn Plugin) -> T,
) -> Result<T, Finding> {
    catch_unwind(AssertUnwindSafe(|| call(plugin))).map_err(|panic| Finding {
        flag: "plugin-failed".to_owned(),
        message: format!("the plugin `{}` failed: {}", plugin.manifest().name, panic_text(&*panic)),
        span: None,
    })
}

fn panic_text(panic: &(dyn std::any::Any + Send)) -> &str {
    panic
        .downcast_ref::<&str>()
        .copied()
        .or_else(|| panic.downcast_ref::<String>().map(String::as_str))
        .unwrap_or("it gave no reason")
}
