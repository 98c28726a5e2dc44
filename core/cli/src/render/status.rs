//! `status`: how the daemon is, or that there is none.

use taperbook_engine::StatusAnswer;

use super::counted;
use crate::style::{CARE, Cell, GOOD, Table, clean, paint};

/// Prints the answer to `status`.
pub(crate) fn status(answer: &StatusAnswer) -> String {
    let mut table = Table::default();
    let style = if answer.state == "live" { GOOD } else { CARE };
    let state = if answer.state == "none" {
        "no daemon (`taperbook watch` starts one)"
    } else {
        &answer.state
    };
    table.cells(["state".into(), Cell::new(state, style)]);
    if let (Some(why), true) = (&answer.why, answer.state != "none") {
        table.row(["why", why]);
    }
    table.row(["folder", &answer.folder]);
    if let Some(pid) = answer.pid {
        table.row(["process", &pid.to_string()]);
    }
    if answer.state != "none" {
        table.row(["records", &answer.records.to_string()]);
        table.row(["problems", &answer.problems.to_string()]);
        table.row(["flags", &answer.flags.to_string()]);
        table.row(["behind", &behind(answer.behind_ms)]);
        if answer.unread > 0 {
            table.row(["to be read", &format!("about {}", counted(answer.unread, "file"))]);
        }
        if answer.pending > 0 {
            table.row(["to be worked out", &answer.pending.to_string()]);
        }
        table.row(["generation", &answer.generation.to_string()]);
        table.row(["index", &size(answer.index_bytes)]);
    }
    let mut text = table.print("");
    if !answer.unreadable.is_empty() {
        let count = counted(answer.unreadable.len(), "path");
        text.push_str(&format!("\n{}\n", paint(CARE, &format!("{count} could not be read:"))));
        for unreadable in &answer.unreadable {
            text.push_str(&format!("  {}: {}\n", clean(&unreadable.path), clean(&unreadable.why)));
        }
    }
    text
}

/// Prints for how long the index has lacked something.
fn behind(ms: u64) -> String {
    match ms {
        0 => "not at all".to_owned(),
        1..10_000 => format!("by {ms} ms"),
        _ => format!("by {} s", ms / 1000),
    }
}

/// Prints a size in the decimal units of the SI.
fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} B"),
        1_000..1_000_000 => format!("{} kB", bytes.div_ceil(1_000)),
        _ => format!("{} MB", bytes.div_ceil(1_000_000)),
    }
}

#[cfg(test)]
mod tests {
    use expect_test::expect;
    use taperbook_engine::Unreadable;

    use super::*;
    use crate::render::sample;

    #[test]
    fn a_daemon_names_its_state_and_what_it_could_not_read() {
        let answer = StatusAnswer {
            state: "polling".to_owned(),
            why: Some("the file system of this folder gives no events".to_owned()),
            pid: Some(4711),
            folder: "/shop".to_owned(),
            generation: 12,
            records: 53,
            problems: 3,
            flags: 3,
            unread: 400,
            pending: 2,
            behind_ms: 8_200,
            unreadable: vec![Unreadable {
                path: "notes/a\nb.md".to_owned(),
                why: "permission denied".to_owned(),
            }],
            index_bytes: 123_456,
        };
        sample::check(
            &status(&answer),
            expect![[r#"
            state             polling
            why               the file system of this folder gives no events
            folder            /shop
            process           4711
            records           53
            problems          3
            flags             3
            behind            by 8200 ms
            to be read        about 400 files
            to be worked out  2
            generation        12
            index             124 kB

            1 path could not be read:
              notes/a b.md: permission denied
        "#]],
        );
    }

    #[test]
    fn without_a_daemon_only_that_is_said() {
        let answer = StatusAnswer {
            state: "none".to_owned(),
            why: Some("no daemon".to_owned()),
            folder: "/shop".to_owned(),
            ..Default::default()
        };
        sample::check(
            &status(&answer),
            expect![[r#"
            state   no daemon (`taperbook watch` starts one)
            folder  /shop
        "#]],
        );
    }

    #[test]
    fn times_and_sizes_have_a_unit() {
        assert_eq!([0, 7, 71_000].map(behind), ["not at all", "by 7 ms", "by 71 s"]);
        assert_eq!([999, 1_000, 1_001, 1_000_000].map(size), ["999 B", "1 kB", "2 kB", "1 MB"]);
    }
}
