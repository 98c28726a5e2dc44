//! `watch`: the few lines that a daemon in the foreground says of itself.

use std::time::{Duration, Instant};

use serde_json::{Value, json};
use taperbook_daemon::Progress;

use super::counted;
use crate::progress::step;
use crate::style::{BAD, CARE, FAINT, GOOD, STRONG, clean, paint};

/// Says what is watched and how to stop it.
pub(crate) fn start(folder: &str) -> String {
    let hint = paint(FAINT, "Ctrl-C or `taperbook stop` ends it");
    format!("watching {}\n{hint}\n", paint(STRONG, &clean(folder)))
}

/// What a daemon said last, so that it does not say it again.
#[derive(Debug)]
pub(crate) struct Told {
    counts: Option<(usize, usize)>,
    /// It said that it is not live.
    is_lame: bool,
    /// When it says next how far a long first look is; never where a bar shows that.
    next_step: Option<Instant>,
}

/// How often a line says how far a first look is.
const STEP_EVERY: Duration = Duration::from_secs(10);

impl Told {
    /// Has told nothing so far but counts of problems and flags, where a program before this one has.
    pub(crate) fn new(tells_steps: bool, counts: Option<(usize, usize)>) -> Self {
        let next_step = tells_steps.then(|| Instant::now() + STEP_EVERY);
        Self { counts, is_lame: false, next_step }
    }

    /// Gives the line for a report, when there is something new in it; a save that changes no count is passed over.
    pub(crate) fn line(&mut self, progress: &Progress, now: Instant) -> Option<String> {
        match progress {
            Progress::Ready { records, problems, flags, took } => {
                self.counts = Some((*problems, *flags));
                let ready = paint(GOOD, "ready:");
                let records = counted(*records, "record");
                Some(format!(
                    "{ready} {records}, {} in {:.1} s\n",
                    counts(*problems, *flags),
                    took.as_secs_f64()
                ))
            }
            Progress::Changed { written, removed, unreadable, problems, flags } => {
                let mut lines: String =
                    unreadable.iter().map(|(path, why)| trouble(path, why)).collect();
                let now = Some((*problems, *flags));
                if self.counts != now {
                    self.counts = now;
                    lines.push_str(&format!(
                        "{}: now {}\n",
                        changed(written, removed),
                        counts(*problems, *flags)
                    ));
                }
                (!lines.is_empty()).then_some(lines)
            }
            Progress::State { state, why } => {
                // Scanning and then live is how every watch begins, and the line after it says so.
                let is_lame = !matches!(state.as_str(), "live" | "scanning");
                if !is_lame && !self.is_lame {
                    return None;
                }
                self.is_lame = is_lame;
                let why = why.as_ref().map(|why| format!(": {}", clean(why))).unwrap_or_default();
                Some(format!("{}{why}\n", paint(CARE, state)))
            }
            Progress::Trouble(what) => {
                Some(format!("{} {}\n", paint(BAD, "trouble:"), clean(what)))
            }
            Progress::Waiting { .. } => {
                Some("another command is working on the index: waiting for it\n".to_owned())
            }
            Progress::Page { address, pen_path } => Some(format!(
                "a page is at http://{address}/\nto write from it too, open http://{address}{pen_path}\n"
            )),
            Progress::Stopping => Some("stopping\n".to_owned()),
            Progress::Scanning { .. } | Progress::Examining { .. } => self.step(progress, now),
        }
    }

    fn step(&mut self, progress: &Progress, now: Instant) -> Option<String> {
        self.next_step.filter(|next| *next <= now)?;
        let (what, done, of) = step(progress)?;
        self.next_step = Some(now + STEP_EVERY);
        let of = of.map(|of| format!(" of {of}")).unwrap_or_default();
        Some(format!("{what}: {done}{of}\n"))
    }
}

/// Gives a report as JSON; how far a scan is has no place in a log.
pub(crate) fn json(progress: &Progress) -> Option<Value> {
    Some(match progress {
        Progress::Ready { records, problems, flags, took } => json!({
            "event": "ready", "records": records, "problems": problems, "flags": flags, "took_ms": took.as_secs_f64() * 1e3,
        }),
        Progress::Changed { written, removed, unreadable, problems, flags } => {
            let unreadable: Vec<Value> =
                unreadable.iter().map(|(path, why)| json!({ "path": path, "why": why })).collect();
            json!({
                "event": "changed", "written": written, "removed": removed, "unreadable": unreadable,
                "problems": problems, "flags": flags,
            })
        }
        Progress::State { state, why } => json!({ "event": "state", "state": state, "why": why }),
        Progress::Trouble(what) => json!({ "event": "trouble", "message": what }),
        Progress::Waiting { pid } => json!({ "event": "waiting", "pid": pid }),
        Progress::Page { address, pen_path } => json!({
            "event": "page", "address": format!("http://{address}/"), "pen": format!("http://{address}{pen_path}"),
        }),
        Progress::Stopping => json!({ "event": "stopping" }),
        Progress::Scanning { .. } | Progress::Examining { .. } => return None,
    })
}

fn trouble(path: &str, why: &str) -> String {
    format!("{} {}: {}\n", paint(BAD, "could not be read:"), clean(path), clean(why))
}

fn counts(problems: usize, flags: usize) -> String {
    format!("{}, {}", counted(problems, "problem"), counted(flags, "flag"))
}

/// Names the records of a change while they are few.
fn changed(written: &[String], removed: &[String]) -> String {
    const MOST: usize = 3;
    let names: Vec<&String> = written.iter().chain(removed).collect();
    let shown: Vec<String> = names.iter().take(MOST).map(|name| clean(name)).collect();
    let more = match names.len().saturating_sub(MOST) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    format!("{}{more}", shown.join(", "))
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    fn changed(
        written: Vec<String>,
        removed: Vec<String>,
        problems: usize,
        flags: usize,
    ) -> Progress {
        Progress::Changed { written, removed, unreadable: Vec::new(), problems, flags }
    }

    fn state(state: &str, why: Option<&str>) -> Progress {
        Progress::State { state: state.to_owned(), why: why.map(str::to_owned) }
    }

    #[test]
    fn only_what_is_new_is_told() {
        let mut told = Told::new(true, None);
        let start_of_test = Instant::now();
        let paths = |n: usize| (0..n).map(|at| format!("builds/{at}.md")).collect::<Vec<_>>();
        let reports = [
            Progress::Scanning { read: 10, of: Some(53) },
            Progress::Scanning { read: 20, of: Some(53) },
            Progress::Examining { left: 13, of: 53 },
            state("scanning", None),
            state("live", None),
            state("polling", Some("no events here")),
            state("live", None),
            Progress::Ready {
                records: 53,
                problems: 3,
                flags: 1,
                took: Duration::from_millis(840),
            },
            changed(paths(1), Vec::new(), 3, 1),
            changed(paths(1), Vec::new(), 3, 2),
            changed(paths(4), paths(1), 0, 2),
            Progress::Changed {
                written: Vec::new(),
                removed: Vec::new(),
                unreadable: vec![("notes/big.md".to_owned(), "it is larger than 8 MiB".to_owned())],
                problems: 0,
                flags: 2,
            },
            Progress::Trouble("the watch limit was reached".to_owned()),
            Progress::Stopping,
        ];
        let text = start("/shop")
            + &reports
                .iter()
                .zip(0..)
                .filter_map(|(report, n)| {
                    told.line(report, start_of_test + Duration::from_secs(n * 7))
                })
                .collect::<String>();
        sample::check(
            &text,
            expect![[r#"
            watching /shop
            Ctrl-C or `taperbook stop` ends it
            working out numbers: 40 of 53
            polling: no events here
            live
            ready: 53 records, 3 problems, 1 flag in 0.8 s
            builds/0.md: now 3 problems, 2 flags
            builds/0.md, builds/1.md, builds/2.md and 2 more: now 0 problems, 2 flags
            could not be read: notes/big.md: it is larger than 8 MiB
            trouble: the watch limit was reached
            stopping
        "#]],
        );
    }

    #[test]
    fn in_json_each_report_is_an_event() {
        let changed = changed(vec!["a.md".to_owned()], Vec::new(), 0, 1);
        assert_eq!(
            json(&changed).map(|value| value.to_string()).as_deref(),
            Some(
                r#"{"event":"changed","flags":1,"problems":0,"removed":[],"unreadable":[],"written":["a.md"]}"#
            )
        );
        assert_eq!(json(&Progress::Examining { left: 1, of: 2 }), None);
    }
}
