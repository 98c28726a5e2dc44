//! Tests of the watch loop on a source that is told what to do.
//!
//! They are for what a real system does not do on request: a limit that is reached, a queue that
//! overflows, a source that can't be made. What a real system does is tested in `tests`.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use crate::source::{Hint, Inlet, Kind, Link, MakeSource, NotWatched, Source};
use crate::{Dirty, Event, Folder, Mode, Settle, Watcher};

/// Only there so that a failing test does not hang.
const DEADLINE: Duration = Duration::from_secs(60);

/// What the tests and their sources share.
#[derive(Default)]
struct Plan {
    /// How many directories can be watched; the others are refused.
    limit: usize,
    /// Why no source can be made, if none can.
    no_source: Option<String>,
    watched: BTreeSet<PathBuf>,
    /// The inlets of all sources that were made, the last one in use.
    inlets: Vec<Inlet>,
}

#[derive(Clone)]
struct Planned(Arc<Mutex<Plan>>);

impl Source for Planned {
    fn watch(&mut self, directory: &Path, _link: Link) -> Result<(), NotWatched> {
        let mut plan = self.0.lock().unwrap();
        if plan.limit <= plan.watched.len() {
            return Err(NotWatched::Because("the limit is reached".to_owned()));
        }
        plan.watched.insert(directory.to_path_buf());
        Ok(())
    }

    fn unwatch(&mut self, directory: &Path) {
        self.0.lock().unwrap().watched.remove(directory);
    }
}

struct Bench {
    home: tempfile::TempDir,
    plan: Planned,
    watcher: Watcher,
    events: Receiver<Event>,
    deadline: Instant,
}

impl Bench {
    /// Starts a watcher on a folder with the directories `a`, `a/b` and `c`.
    fn start(plan: Plan, settle: Settle) -> Self {
        let home = tempfile::tempdir().unwrap();
        let root = home.path().join("shop");
        for directory in ["a/b", "c"] {
            std::fs::create_dir_all(root.join(directory)).unwrap();
        }
        let plan = Planned(Arc::new(Mutex::new(plan)));
        let maker = plan.clone();
        let make_source: MakeSource = Box::new(move |inlet| {
            let mut plan = maker.0.lock().unwrap();
            if let Some(why) = &plan.no_source {
                return Err(why.clone());
            }
            plan.watched.clear();
            plan.inlets.push(inlet);
            Ok(Box::new(maker.clone()))
        });
        let folder = Folder::open(&root).unwrap();
        let state = home.path().join("state");
        let (watcher, events) = Watcher::start_with(&folder, &state, settle, make_source).unwrap();
        let deadline = Instant::now() + DEADLINE;
        let bench = Self { home, plan, watcher, events, deadline };
        assert_eq!(bench.next_but_trouble(), Event::Dirty(Dirty::Everything));
        bench
    }

    fn hint(&self, kind: Kind, relative: &str) {
        let path = self.home.path().join("shop").join(relative);
        self.last_inlet().send(Hint::Path { kind, path });
    }

    fn last_inlet(&self) -> Inlet {
        self.plan.0.lock().unwrap().inlets.last().unwrap().clone()
    }

    #[track_caller]
    fn next(&self) -> Event {
        // The deadline is for all events together, because polling brings new ones for ever.
        let wait = self.deadline.checked_duration_since(Instant::now());
        self.events.recv_timeout(wait.expect("the test is over its deadline")).unwrap()
    }

    #[track_caller]
    fn next_but_trouble(&self) -> Event {
        loop {
            match self.next() {
                Event::Trouble(_) => {}
                event => return event,
            }
        }
    }

    /// A fence may be told twice.
    #[track_caller]
    fn next_but_fence(&self, fence: u64) -> Event {
        match self.next() {
            Event::Fence(number) if number == fence => self.next(),
            event => event,
        }
    }

    #[track_caller]
    fn wait_for(&self, wanted: &Event) {
        while self.next() != *wanted {}
    }
}

fn quick() -> Settle {
    let soon = Duration::from_millis(10);
    Settle { poll_every: soon, rescan_pause: soon, ..Settle::default() }
}

fn never_by_itself() -> Settle {
    let hour = Duration::from_secs(3600);
    Settle { poll_every: hour, rescan_pause: hour, quiet: hour, at_most: hour, ..Settle::default() }
}

fn paths(paths: &[&str]) -> Event {
    Event::Dirty(Dirty::Paths(paths.iter().map(PathBuf::from).collect()))
}

#[test]
fn what_is_over_the_limit_is_polled_and_watched_when_it_can_be() {
    let bench = Bench::start(Plan { limit: 2, ..Plan::default() }, quick());
    let Mode::Degraded { why, directories } = bench.watcher.mode() else {
        panic!("{}", bench.watcher.mode())
    };
    assert_eq!(why, "the limit is reached");
    // The fences and the root took the two.
    assert_eq!(directories, ["a", "a/b", "c"]);
    bench.wait_for(&paths(&["a", "c"]));
    // Polling goes on.
    bench.wait_for(&paths(&["a", "c"]));
    bench.plan.0.lock().unwrap().limit = 100;
    // The last poll is the one that found the directories could be watched.
    while bench.watcher.mode() != Mode::Live {
        bench.next();
    }
    assert_eq!(bench.plan.0.lock().unwrap().watched.len(), 5);
}

#[test]
fn a_fence_marks_what_is_not_watched() {
    let bench = Bench::start(Plan { limit: 0, ..Plan::default() }, never_by_itself());
    // The limit leaves no watch for the fence either, so it is answered by a look at everything.
    let fence = bench.watcher.fence().unwrap();
    assert_eq!(bench.next_but_trouble(), Event::Dirty(Dirty::Everything));
    assert_eq!(bench.next(), Event::Fence(fence));

    let bench = Bench::start(Plan { limit: 100, ..Plan::default() }, never_by_itself());
    bench.plan.0.lock().unwrap().limit = 0;
    std::fs::create_dir_all(bench.home.path().join("shop/d/e")).unwrap();
    bench.hint(Kind::Created, "d");
    assert_eq!(bench.next_but_trouble(), paths(&["d"]));
    bench.hint(Kind::Modified, "a/x.md");
    let fence = bench.watcher.fence().unwrap();
    let file = bench.home.path().join(format!("state/fence/{fence}"));
    bench.last_inlet().send(Hint::Path { kind: Kind::Created, path: file });
    assert_eq!(bench.next_but_trouble(), paths(&["a/x.md", "d"]));
    assert_eq!(bench.next(), Event::Fence(fence));
}

#[test]
fn an_overflow_begins_anew_and_says_so() {
    let bench = Bench::start(Plan { limit: 100, ..Plan::default() }, quick());
    let old = bench.last_inlet();
    old.send(Hint::Lost("more happened at once than the system keeps".to_owned()));
    assert_eq!(
        bench.next(),
        Event::Trouble(
            "more happened at once than the system keeps; the folder is scanned again".to_owned()
        )
    );
    assert_eq!(bench.next(), Event::Dirty(Dirty::Everything));
    assert_eq!(bench.plan.0.lock().unwrap().inlets.len(), 2);

    // What the old source still says is not listened to.
    let path = bench.home.path().join("shop/old.md");
    old.send(Hint::Path { kind: Kind::Closed, path });
    bench.hint(Kind::Closed, "new.md");
    assert_eq!(bench.next(), paths(&["new.md"]));
}

#[test]
fn a_fence_whose_event_was_lost_is_answered_after_the_new_scan() {
    let bench = Bench::start(Plan { limit: 100, ..Plan::default() }, quick());
    // The planned source sends no event for it.
    let fence = bench.watcher.fence().unwrap();
    bench.last_inlet().send(Hint::Lost("a test".to_owned()));
    assert_eq!(bench.next_but_trouble(), Event::Dirty(Dirty::Everything));
    assert_eq!(bench.next(), Event::Fence(fence));
}

#[test]
fn a_fence_that_somebody_deletes_is_answered_all_the_same() {
    let bench = Bench::start(Plan { limit: 100, ..Plan::default() }, never_by_itself());
    let fence = bench.watcher.fence().unwrap();
    let path = bench.home.path().join(format!("state/fence/{fence}"));
    std::fs::remove_file(&path).unwrap();
    for kind in [Kind::Created, Kind::Closed, Kind::Gone] {
        bench.last_inlet().send(Hint::Path { kind, path: path.clone() });
    }
    bench.hint(Kind::Closed, "a/x.md");
    assert_eq!(bench.next(), Event::Fence(fence));
    assert_eq!(bench.next(), paths(&["a/x.md"]), "and once");
}

#[test]
fn an_overdue_fence_is_answered_by_a_scan_with_another_source() {
    let bench = Bench::start(Plan { limit: 100, ..Plan::default() }, never_by_itself());
    // The planned source sends no event for it.
    let fence = bench.watcher.fence().unwrap();
    bench.watcher.overdue(fence);
    assert!(matches!(bench.next(), Event::Trouble(_)));
    assert_eq!(bench.next(), Event::Dirty(Dirty::Everything));
    assert_eq!(bench.next(), Event::Fence(fence));
    assert_eq!(bench.plan.0.lock().unwrap().inlets.len(), 2);
    // One that was answered meanwhile is no reason to look at everything.
    bench.watcher.overdue(fence);
    bench.hint(Kind::Closed, "a/x.md");
    assert_eq!(bench.next_but_fence(fence), paths(&["a/x.md"]));
}

#[test]
fn a_fence_does_not_wait_for_the_pause_between_scans() {
    let bench = Bench::start(Plan { limit: 100, ..Plan::default() }, never_by_itself());
    bench.last_inlet().send(Hint::Lost("a test".to_owned()));
    let fence = bench.watcher.fence().unwrap();
    let path = bench.home.path().join(format!("state/fence/{fence}"));
    bench.last_inlet().send(Hint::Path { kind: Kind::Created, path });
    assert_eq!(bench.next_but_trouble(), Event::Dirty(Dirty::Everything));
    assert_eq!(bench.next(), Event::Fence(fence));
}

#[test]
fn no_source_means_polling_until_there_is_one() {
    let plan = Plan { limit: 100, no_source: Some("none left".to_owned()), ..Plan::default() };
    let bench = Bench::start(plan, quick());
    assert_eq!(bench.watcher.mode(), Mode::Polling { why: "none left".to_owned() });
    assert_eq!(bench.next_but_trouble(), Event::Dirty(Dirty::Everything));
    let fence = bench.watcher.fence().unwrap();
    bench.wait_for(&Event::Fence(fence));
    bench.plan.0.lock().unwrap().no_source = None;
    while bench.watcher.mode() != Mode::Live {
        bench.next();
    }
}

#[test]
fn a_rescan_comes_by_itself() {
    let settle = Settle { rescan_every: Duration::from_millis(10), ..Settle::default() };
    let bench = Bench::start(Plan { limit: 100, ..Plan::default() }, settle);
    assert_eq!(bench.next(), Event::Dirty(Dirty::Everything));
    assert_eq!(bench.next(), Event::Dirty(Dirty::Everything));
}

#[test]
fn the_loop_ends_when_nobody_listens() {
    let bench = Bench::start(Plan { limit: 100, ..Plan::default() }, quick());
    let Bench { home: _home, plan, watcher, events, .. } = bench;
    drop(events);
    let inlet = plan.0.lock().unwrap().inlets.last().unwrap().clone();
    // The loop notices at the next thing it has to tell.
    while watcher.fence().is_ok() {
        inlet.send(Hint::Lost("a test".to_owned()));
        std::thread::yield_now();
    }
}
