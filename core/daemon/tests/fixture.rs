//! A shop folder of its own, a daemon on a thread, and plugins that are enough to see examinations.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use taperbook_daemon::{AskError, DaemonError, Progress, Shop};
use taperbook_engine::{Answer, FindAnswer, Request};
use taperbook_plugin::{Finding, FlagSpec, Manifest, Number, NumberSpec, Plugin, View};
use taperbook_record::{Kind, Record};
use taperbook_units::Dimension;
use tempfile::TempDir;

/// Nothing here takes long; a test that waits longer hangs.
pub(crate) const DEADLINE: Duration = Duration::from_secs(240);

/// Counts the notes of the shop, so that every note depends on every other, and flags a title with `cracked`.
struct Counter {
    pause: Duration,
}

impl Plugin for Counter {
    fn manifest(&self) -> Manifest {
        let number = NumberSpec {
            key: "notes".to_owned(),
            dimension: Dimension::Count,
            meaning: "how many notes there are".to_owned(),
        };
        let flag = FlagSpec {
            name: "cracked",
            finds: "a crack",
            why: "it breaks",
            example: "a cracked tip",
        };
        Manifest { name: "counter", version: "1", numbers: vec![number], flags: vec![flag] }
    }

    fn numbers(&self, _record: &Record, view: &View) -> Vec<(String, Number)> {
        std::thread::sleep(self.pause);
        let n_notes = u32::try_from(view.all(Kind::Note).len()).unwrap();
        vec![("notes".to_owned(), Number::exact(n_notes.into()))]
    }

    fn flags(&self, record: &Record, _view: &View) -> Vec<Finding> {
        let is_cracked = record.title.contains("cracked");
        let finding = || Finding {
            flag: "cracked".to_owned(),
            message: "it is cracked".to_owned(),
            span: None,
        };
        is_cracked.then(finding).into_iter().collect()
    }
}

/// Gives a number to each record after a pause, and reads nothing else.
struct Slow;

impl Plugin for Slow {
    fn manifest(&self) -> Manifest {
        Manifest { name: "slow", version: "1", numbers: Vec::new(), flags: Vec::new() }
    }

    fn numbers(&self, _record: &Record, _view: &View) -> Vec<(String, Number)> {
        std::thread::sleep(Duration::from_millis(4));
        Vec::new()
    }
}

/// Takes its time until it is let go.
struct Dawdler;

static IS_LET_GO: AtomicBool = AtomicBool::new(false);

impl Plugin for Dawdler {
    fn manifest(&self) -> Manifest {
        Manifest { name: "dawdler", version: "1", numbers: Vec::new(), flags: Vec::new() }
    }

    fn numbers(&self, _record: &Record, _view: &View) -> Vec<(String, Number)> {
        if !IS_LET_GO.load(Ordering::SeqCst) {
            std::thread::sleep(Duration::from_millis(20));
        }
        Vec::new()
    }
}

/// A plugin that takes longer than a test may, until it is let go; for one test alone.
pub(crate) fn dawdling() -> Vec<Box<dyn Plugin>> {
    vec![Box::new(Dawdler)]
}

/// Lets the plugin of [`dawdling`] go.
pub(crate) fn let_go() {
    IS_LET_GO.store(true, Ordering::SeqCst);
}

/// A plugin that reads all notes for each of them.
pub(crate) fn counting() -> Vec<Box<dyn Plugin>> {
    vec![Box::new(Counter { pause: Duration::ZERO })]
}

/// The same, a millisecond a record.
pub(crate) fn counting_slowly() -> Vec<Box<dyn Plugin>> {
    vec![Box::new(Counter { pause: Duration::from_millis(1) })]
}

/// A plugin that takes its time.
pub(crate) fn slow() -> Vec<Box<dyn Plugin>> {
    vec![Box::new(Slow)]
}

/// A shop folder with its state beside it.
pub(crate) struct Fixture {
    pub(crate) home: TempDir,
    pub(crate) shop: Shop,
}

impl Fixture {
    pub(crate) fn new() -> Self {
        Self::with(counting)
    }

    pub(crate) fn with(plugins: fn() -> Vec<Box<dyn Plugin>>) -> Self {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("shop");
        std::fs::create_dir(&folder).unwrap();
        let shop = Shop { folder, state_dir: Some(home.path().join("state")), plugins };
        Self { home, shop }
    }

    pub(crate) fn path(&self, relative: &str) -> PathBuf {
        self.shop.folder.join(relative)
    }

    /// Writes a record as a program does that writes in place.
    pub(crate) fn write(&self, relative: &str, text: &str) {
        let path = self.path(relative);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    /// Starts a daemon on this folder and waits until it follows the folder, which it still has to look through.
    #[track_caller]
    pub(crate) fn watch(&self) -> Daemon {
        let daemon = Daemon::start(&self.shop);
        daemon.wait_for(|progress| matches!(progress, Progress::State { .. }));
        daemon
    }

    pub(crate) fn ask(&self, request: &Request) -> Result<Answer, AskError> {
        taperbook_daemon::ask(&self.shop, request, |_| {})
    }

    #[track_caller]
    pub(crate) fn find(&self, query: &str) -> FindAnswer {
        let request = Request::Find { query: query.to_owned(), limit: 1000 };
        match self.ask(&request) {
            Ok(Answer::Find(found)) => found,
            other => panic!("`{query}` gave {other:?} in\n{}", self.listing()),
        }
    }

    /// Finds the ids of what a query matches, sorted.
    #[track_caller]
    pub(crate) fn ids(&self, query: &str) -> Vec<String> {
        let found = self.find(query);
        assert_eq!(found.unread + found.pending, 0, "everything is known");
        let mut ids: Vec<_> = found.hits.into_iter().map(|hit| hit.record).collect();
        ids.sort();
        ids
    }

    /// The directory in the state directory that belongs to this folder.
    pub(crate) fn place(&self) -> PathBuf {
        let state = self.shop.state_dir.as_ref().unwrap();
        let paths = std::fs::read_dir(state).unwrap().map(|entry| entry.unwrap().path());
        let mut places: Vec<_> = paths.filter(|path| path.is_dir()).collect();
        assert_eq!(places.len(), 1, "{places:?}");
        places.remove(0)
    }

    /// The directory of index and ledger.
    pub(crate) fn engine(&self) -> PathBuf {
        let engine = self.place().join("engine");
        let name = std::fs::read_to_string(engine.join("current")).unwrap();
        engine.join(name)
    }

    /// What answers the same questions from nothing: the same folder with a state directory that is new.
    pub(crate) fn afresh(&self, name: &str) -> Shop {
        Shop { state_dir: Some(self.home.path().join(name)), ..self.shop.clone() }
    }

    fn listing(&self) -> String {
        listing(&self.shop.folder).join("\n")
    }
}

/// Every file below a directory, with what would show that it was touched.
pub(crate) fn listing(dir: &Path) -> Vec<String> {
    use std::os::unix::fs::MetadataExt;
    let mut lines = Vec::new();
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        let metadata = path.symlink_metadata().unwrap();
        let (inode, mode, size) = (metadata.ino(), metadata.mode(), metadata.size());
        let (mtime, ctime) =
            ((metadata.mtime(), metadata.mtime_nsec()), (metadata.ctime(), metadata.ctime_nsec()));
        lines.push(format!("{path:?} {inode} {mode:o} {size} {mtime:?} {ctime:?}"));
        if metadata.is_dir() {
            lines.extend(listing(&path));
        }
    }
    lines.sort();
    lines
}

/// A daemon on a thread; it is stopped when it is dropped.
pub(crate) struct Daemon {
    shop: Shop,
    thread: Option<JoinHandle<Result<(), DaemonError>>>,
    progress: Receiver<Progress>,
}

impl Daemon {
    pub(crate) fn start(shop: &Shop) -> Self {
        let (sender, progress) = channel();
        let thread = std::thread::spawn({
            let shop = shop.clone();
            move || {
                taperbook_daemon::watch(&shop, None, move |progress| {
                    let _ = sender.send(progress);
                })
            }
        });
        Self { shop: shop.clone(), thread: Some(thread), progress }
    }

    /// Waits for a report that passes a test, and gives it.
    #[track_caller]
    pub(crate) fn wait_for(&self, test: impl Fn(&Progress) -> bool) -> Progress {
        let until = Instant::now() + DEADLINE;
        let mut seen = Vec::new();
        loop {
            match self.progress.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok(progress) if test(&progress) => return progress,
                Ok(progress) => seen.push(progress),
                Err(error) => panic!("{error} after {seen:?}"),
            }
        }
    }

    #[track_caller]
    pub(crate) fn wait_until_ready(&self) -> Progress {
        self.wait_for(|progress| matches!(progress, Progress::Ready { .. }))
    }

    /// Waits until the daemon has ended, and gives what it ended with.
    pub(crate) fn end(mut self) -> Result<(), DaemonError> {
        self.thread.take().unwrap().join().unwrap()
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let Some(thread) = self.thread.take() else { return };
        // A daemon that has not begun yet can't be told to stop yet.
        while !thread.is_finished() {
            if taperbook_daemon::stop(&self.shop).is_err() {
                // A test that has failed already should say why, not hang on a daemon that won't stop.
                return;
            }
        }
        let _ = thread.join();
    }
}

/// Tries something until it gives a value, or the deadline has passed.
#[track_caller]
pub(crate) fn eventually<T>(what: &str, mut attempt: impl FnMut() -> Option<T>) -> T {
    let until = Instant::now() + DEADLINE;
    loop {
        if let Some(value) = attempt() {
            return value;
        }
        assert!(Instant::now() < until, "still not: {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}
