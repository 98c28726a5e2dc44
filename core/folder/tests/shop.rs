//! A shop folder under test. It keeps what a reader of the events would hold.

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::{Duration, Instant};

use taperbook_folder::{Change, Dirty, Event, Folder, Manifest, Mode, Settle, Watcher};
use tempfile::TempDir;

/// Long enough for a busy machine; a test that passes never waits for it.
const DEADLINE: Duration = Duration::from_secs(60);

/// What is held of one path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Held {
    Bytes(Vec<u8>),
    Unreadable(String),
}

pub(crate) struct Shop {
    home: TempDir,
    pub(crate) folder: Folder,
    watcher: Option<(Watcher, Receiver<Event>)>,
    manifest: Manifest,
    held: BTreeMap<String, Held>,
    /// All changes since the last call of [`Self::take_log`].
    log: Vec<Change>,
    troubles: Vec<String>,
}

impl Shop {
    /// An empty shop folder that nobody watches.
    pub(crate) fn new() -> Self {
        let home = tempfile::tempdir().unwrap();
        std::fs::create_dir(home.path().join("shop")).unwrap();
        let folder = Folder::open(&home.path().join("shop")).unwrap();
        Self {
            home,
            folder,
            watcher: None,
            manifest: Manifest::default(),
            held: BTreeMap::new(),
            log: Vec::new(),
            troubles: Vec::new(),
        }
    }

    /// One whose records keep their last good version for this long when they are emptied.
    pub(crate) fn holding_emptied_for(emptied: Duration) -> Self {
        let shop = Self::new();
        Self { folder: shop.folder.clone().holding_emptied_for(emptied), ..shop }
    }

    /// The records that keep their last good version for the moment.
    pub(crate) fn emptied(&self) -> Vec<String> {
        self.manifest.emptied().map(ToString::to_string).collect()
    }

    /// The records whose files have another name as well.
    pub(crate) fn linked(&self) -> Vec<String> {
        self.manifest.linked().map(ToString::to_string).collect()
    }

    /// An empty shop folder that is watched with the usual waits.
    pub(crate) fn watched() -> Self {
        Self::new().watch(Settle::default())
    }

    pub(crate) fn watch(mut self, settle: Settle) -> Self {
        let state = self.home.path().join("state");
        self.watcher = Some(Watcher::start(&self.folder, &state, settle).unwrap());
        self
    }

    /// A path in the shop folder.
    pub(crate) fn path(&self, relative: impl AsRef<Path>) -> PathBuf {
        self.folder.root().join(relative)
    }

    /// A path beside the shop folder, on the same file system.
    pub(crate) fn outside(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    pub(crate) fn write(&self, relative: impl AsRef<Path>, text: &str) {
        std::fs::write(self.path(relative), text).unwrap();
    }

    pub(crate) fn append(&self, relative: &str, text: &str) {
        let mut file = OpenOptions::new().append(true).open(self.path(relative)).unwrap();
        file.write_all(text.as_bytes()).unwrap();
    }

    pub(crate) fn make(&self, relative: impl AsRef<Path>) {
        std::fs::create_dir_all(self.path(relative)).unwrap();
    }

    pub(crate) fn rename(&self, from: impl AsRef<Path>, to: impl AsRef<Path>) {
        std::fs::rename(self.path(from), self.path(to)).unwrap();
    }

    pub(crate) fn remove(&self, relative: impl AsRef<Path>) {
        std::fs::remove_file(self.path(relative)).unwrap();
    }

    /// Sets the permissions of a file or directory.
    pub(crate) fn permit(&self, relative: &str, mode: u32) {
        let mode = std::fs::Permissions::from_mode(mode);
        std::fs::set_permissions(self.path(relative), mode).unwrap();
    }

    /// Whether permissions hold for the user who runs the test; says so when they don't.
    #[expect(clippy::print_stderr, reason = "a test that can't run here has to say so")]
    pub(crate) fn can_forbid(&self) -> bool {
        let path = self.outside("forbidden");
        std::fs::write(&path, "").unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).unwrap();
        let is_forbidden = std::fs::File::open(&path).is_err();
        if !is_forbidden {
            eprintln!("skipped: this user may read every file, whatever its permissions");
        }
        is_forbidden
    }

    pub(crate) fn watcher(&self) -> &Watcher {
        &self.watcher.as_ref().unwrap().0
    }

    /// The text held of a record, if any is held.
    pub(crate) fn text(&self, path: &str) -> Option<&str> {
        match self.held.get(path)? {
            Held::Bytes(bytes) => Some(std::str::from_utf8(bytes).unwrap()),
            Held::Unreadable(_) => None,
        }
    }

    pub(crate) fn why_unreadable(&self, path: &str) -> Option<&str> {
        match self.held.get(path)? {
            Held::Bytes(_) => None,
            Held::Unreadable(why) => Some(why),
        }
    }

    /// All paths that something is held of.
    pub(crate) fn paths(&self) -> Vec<&str> {
        self.held.keys().map(String::as_str).collect()
    }

    pub(crate) fn take_log(&mut self) -> Vec<Change> {
        std::mem::take(&mut self.log)
    }

    pub(crate) fn troubles(&self) -> &[String] {
        &self.troubles
    }

    /// Looks where it is told and takes in what is new.
    pub(crate) fn look(&mut self, dirty: &Dirty) {
        let (held, log) = (&mut self.held, &mut self.log);
        // The folder may be gone at the moment, which the tests of that ask for themselves.
        let _ = self.folder.reconcile(&mut self.manifest, dirty, |change| {
            take_in(held, &change);
            log.push(change);
        });
    }

    pub(crate) fn scan(&mut self) {
        self.look(&Dirty::Everything);
    }

    /// Raises a fence and takes events until it is answered.
    #[track_caller]
    pub(crate) fn fence(&mut self) {
        let fence = self.watcher().fence().unwrap();
        self.take_until("the fence", |_, event| *event == Event::Fence(fence));
    }

    /// Takes events until a condition holds, without any fence.
    #[track_caller]
    pub(crate) fn wait_until(&mut self, what: &str, condition: impl Fn(&Self) -> bool) {
        if !condition(self) {
            self.take_until(what, |shop, _| condition(shop));
        }
    }

    /// Takes events until a record has a text.
    #[track_caller]
    pub(crate) fn wait_for(&mut self, path: &str, text: &str) {
        self.wait_until(&format!("{path}: {text}"), |shop| shop.text(path) == Some(text));
    }

    /// Takes events until the watcher says that it is in a mode.
    #[track_caller]
    pub(crate) fn wait_for_mode(&mut self, what: &str, test: impl Fn(&Mode) -> bool) {
        self.wait_until(what, |shop| test(&shop.watcher().mode()));
    }

    #[track_caller]
    fn take_until(&mut self, what: &str, mut done: impl FnMut(&Self, &Event) -> bool) {
        let deadline = Instant::now() + DEADLINE;
        let mut recent = Vec::new();
        loop {
            let wait = deadline.saturating_duration_since(Instant::now());
            let event = match self.watcher.as_ref().unwrap().1.recv_timeout(wait) {
                Ok(event) => event,
                Err(error @ (RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected)) => {
                    panic!(
                        "waited for {what}: {error}\nmode: {}\nheld: {:?}\non disk: {:?}\nevents: {recent:#?}",
                        self.watcher().mode(),
                        self.held,
                        listing(self.folder.root()),
                    )
                }
            };
            match &event {
                Event::Dirty(dirty) => self.look(dirty),
                Event::Trouble(trouble) => self.troubles.push(trouble.clone()),
                Event::Fence(_) => {}
            }
            if done(self, &event) {
                return;
            }
            recent.push(event);
        }
    }

    /// Checks that what is held equals what a first scan finds.
    #[track_caller]
    pub(crate) fn check_fresh(&self) {
        let (mut fresh, mut manifest) = (BTreeMap::new(), Manifest::default());
        let scanned = self.folder.reconcile(&mut manifest, &Dirty::Everything, |change| {
            take_in(&mut fresh, &change);
        });
        scanned.unwrap();
        if self.held != fresh {
            let wrong = |path: &&String| self.held.get(*path) != fresh.get(*path);
            let wrong: Vec<_> = self.held.keys().chain(fresh.keys()).filter(wrong).collect();
            panic!("held and fresh differ at {wrong:?}");
        }
        let hashes = |manifest: &Manifest| -> Vec<_> {
            manifest.records().map(|(path, key)| (path.to_owned(), key.hash)).collect()
        };
        assert_eq!(hashes(&self.manifest), hashes(&manifest));
    }

    /// Raises a fence, then checks that what is held equals what a first scan finds.
    #[track_caller]
    pub(crate) fn check_after_fence(&mut self) {
        self.fence();
        self.check_fresh();
    }
}

fn take_in(held: &mut BTreeMap<String, Held>, change: &Change) {
    let path = change.path().to_string();
    match change {
        Change::Written { key, bytes, .. } => {
            assert_eq!(key.hash, *blake3::hash(bytes).as_bytes(), "{path}");
            held.insert(path, Held::Bytes(bytes.clone()));
        }
        Change::Unreadable { why, .. } => {
            held.insert(path, Held::Unreadable(why.clone()));
        }
        Change::Removed { .. } => {
            assert!(held.remove(&path).is_some(), "{path} was removed but never told of");
        }
    }
}

/// All that is in a directory, for a failing test to print.
pub(crate) fn listing(directory: &Path) -> Vec<PathBuf> {
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(directory).into_iter().flatten().flatten() {
        paths.push(entry.path());
        if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            paths.extend(listing(&entry.path()));
        }
    }
    paths.sort();
    paths
}
