//! The engine with the manifest of what it has taken in: the same for a daemon and for a single question.
//!
//! Index and manifest are one truth. The index knows the hash of every text that it has, and the manifest the keys by
//! which a file of that hash is recognised without reading it. The manifest is written now and then, with the name of
//! the state of the index; one of another state, as after a kill, is taken for what it says of files whose hash the
//! index has too, and all other files are read, and taken in again where they differ.

use std::cell::RefCell;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Instant;

use taperbook_engine::{Engine, EngineError, Setup, Snapshot};
use taperbook_folder::{Change, Dirty, Folder, FolderError, Manifest, ManifestError, RecordPath};

use crate::census::count_records;
use crate::files::FolderFiles;
use crate::place::{Place, unusable};
use crate::{AskError, DaemonError, Shop, StateError};

/// The engine of one shop folder, and what it has taken in.
pub(crate) struct Keeper {
    pub(crate) engine: Engine,
    folder: Folder,
    manifest: Manifest,
    manifest_path: PathBuf,
    /// What the manifest on the disk has: its generation and how often it was edited.
    saved: Option<(u64, u64)>,
    /// The same while it is being written, on a thread of its own.
    saving: Option<JoinHandle<Result<(), ManifestError>>>,
}

/// Why an engine can't be opened.
#[derive(Debug)]
pub(crate) enum KeeperError {
    Folder(FolderError),
    State(StateError),
    Engine(EngineError),
}

/// Why a look at the folder did not come to its end.
#[derive(Debug)]
pub(crate) enum Unfinished {
    /// The folder is not there or can't be listed; what was known of it stays, but for so many changes.
    Folder(FolderError, usize),
    /// The listener wanted no more; the engine has all that was found.
    Stopped,
}

/// Somebody who follows a look at the folder.
pub(crate) trait Listener {
    /// A change was found; it is handed to the engine a little later.
    fn found(&mut self, change: &Change);

    /// Some changes were handed to the engine, and more are to come.
    fn handed(&mut self, engine: &mut Engine) -> ControlFlow<()>;

    /// Whether the look goes on; asked every few files, whether they have changed or not.
    fn goes_on(&mut self) -> bool {
        true
    }
}

/// The engine is handed changes when there are so many of them, since it reads them in parallel and holds all that it
/// made of them until they are in the index…
const CHUNK: usize = 256;
/// …or when they hold so many bytes.
const CHUNK_BYTES: usize = 16 << 20;

impl Keeper {
    /// Opens the index of a shop folder with what is known of its files; the caller holds the lock.
    pub(crate) fn open(shop: &Shop, place: &Place) -> Result<Self, KeeperError> {
        let folder = Folder::open(&place.folder).map_err(KeeperError::Folder)?;
        let manifest_path = place.manifest();
        let engine_dir = place.engine();
        let setup = Setup {
            state_dir: Some(engine_dir.clone()),
            plugins: (shop.plugins)(),
            files: Arc::new(FolderFiles { root: place.folder.clone() }),
        };
        std::fs::create_dir_all(&engine_dir).map_err(state(&engine_dir))?;
        // A manifest that can't be read is no reason to tell anybody: everything is read again.
        let (mut manifest, engine) =
            both(|| Manifest::read(&manifest_path).unwrap_or_default(), || Engine::open(setup));
        let engine = engine.map_err(KeeperError::Engine)?;
        let mut saved = None;
        if engine.generation() == 0 {
            // It must not be there when a new index has come to the generation that it names.
            remove(&manifest_path)?;
            manifest = Manifest::default();
        } else if manifest.of == engine.state() {
            saved = Some((engine.generation(), manifest.edits()));
        } else {
            manifest = manifest.of_contents(engine.contents(), engine.unreadable());
        }
        Ok(Self { engine, folder, manifest, manifest_path, saved, saving: None })
    }

    /// Looks at the folder where `dirty` says and hands the engine what differs; gives how many changes there were.
    pub(crate) fn reconcile(
        &mut self,
        dirty: &Dirty,
        listener: &mut impl Listener,
    ) -> Result<usize, Unfinished> {
        let engine = &mut self.engine;
        let mut chunk = Vec::new();
        let (mut n_bytes, mut n_changes) = (0, 0);
        let is_over = std::cell::Cell::new(false);
        let listener = RefCell::new(listener);
        let goes_on = || !is_over.get() && listener.borrow_mut().goes_on();
        let looked = self.folder.reconcile_while(&mut self.manifest, dirty, goes_on, |change| {
            listener.borrow_mut().found(&change);
            n_changes += 1;
            let change = for_engine(change, &mut n_bytes);
            chunk.push(change);
            if CHUNK <= chunk.len() || CHUNK_BYTES <= n_bytes {
                engine.apply(std::mem::take(&mut chunk));
                n_bytes = 0;
                is_over.set(listener.borrow_mut().handed(engine).is_break());
            }
        });
        // Also when the folder went away halfway: the manifest has these changes already.
        if !chunk.is_empty() {
            engine.apply(chunk);
        }
        match looked {
            Ok(true) => Ok(n_changes),
            Ok(false) => Err(Unfinished::Stopped),
            Err(error) => Err(Unfinished::Folder(error, n_changes)),
        }
    }

    /// Gives the records that were read while their files were changing: they must be looked at again.
    pub(crate) fn take_doubts(&mut self) -> Dirty {
        let paths = self.engine.take_doubts();
        paths.iter().for_each(|path| self.manifest.forget(path));
        Dirty::Paths(paths.into_iter().map(PathBuf::from).collect())
    }

    /// When the first record is believed to be empty of those that were emptied a moment ago, if there are any.
    ///
    /// Until then they have their last good version, and nobody is answered who asked for what is there now.
    pub(crate) fn emptied_until(&self) -> Option<Instant> {
        self.manifest.emptied_until()
    }

    /// The records that were emptied a moment ago.
    pub(crate) fn emptied(&self) -> Dirty {
        dirty(self.manifest.emptied())
    }

    /// The records that may be written to without an event, through another name of theirs.
    pub(crate) fn linked(&self) -> Dirty {
        dirty(self.manifest.linked())
    }

    /// Publishes what the engine has.
    pub(crate) fn commit(&mut self) -> Result<Arc<Snapshot>, EngineError> {
        commit(&mut self.engine)
    }

    /// Writes the manifest for the engine's last commit, if what is on the disk is another one; nothing may have been
    /// taken in since that commit.
    ///
    /// When it fails, the next start reads again what has changed since it was written last.
    pub(crate) fn save(&mut self) -> Result<(), ManifestError> {
        self.begin_to_save()?;
        self.end_saving()
    }

    /// Begins what [`Keeper::save`] does and does not wait for it: in a large shop it would hold up a save of somebody.
    pub(crate) fn begin_to_save(&mut self) -> Result<(), ManifestError> {
        // Where that failed it is done again.
        let _ = self.end_saving();
        if self.is_saved() {
            return Ok(());
        }
        self.manifest.of = self.engine.state();
        let writing = self.manifest.writing(&self.manifest_path);
        self.saving = Some(std::thread::spawn(move || writing.finish()));
        self.saved = Some((self.engine.generation(), self.manifest.edits()));
        Ok(())
    }

    /// Waits until the manifest that was begun is written.
    pub(crate) fn end_saving(&mut self) -> Result<(), ManifestError> {
        let Some(saving) = self.saving.take() else { return Ok(()) };
        let saved = saving.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        if saved.is_err() {
            self.saved = None;
        }
        saved
    }

    /// Whether the manifest is being written, and whether that is over.
    pub(crate) fn saving(&self) -> Option<bool> {
        self.saving.as_ref().map(JoinHandle::is_finished)
    }

    /// Whether the manifest on the disk has all that is known.
    pub(crate) fn is_saved(&self) -> bool {
        self.saved == Some((self.engine.generation(), self.manifest.edits()))
    }

    /// Whether no file was taken in yet.
    pub(crate) fn is_new(&self) -> bool {
        self.engine.generation() == 0
    }

    /// Counts the files that a look at everything will read when the keeper is new.
    pub(crate) fn count_records(&self) -> usize {
        count_records(self.folder.root())
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        // The next keeper writes the same file. Where this fails it reads again what has changed.
        let _ = self.end_saving();
    }
}

fn dirty<'a>(paths: impl Iterator<Item = &'a RecordPath>) -> Dirty {
    Dirty::Paths(paths.map(|path| path.as_path().to_path_buf()).collect())
}

/// Does two things at once, the second on a thread of its own.
pub(crate) fn both<A, B: Send>(
    one: impl FnOnce() -> A,
    other: impl FnOnce() -> B + Send,
) -> (A, B) {
    std::thread::scope(|scope| {
        let other = scope.spawn(other);
        let one = one();
        (one, other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    })
}

/// Publishes what an engine has under the next generation.
pub(crate) fn commit(engine: &mut Engine) -> Result<Arc<Snapshot>, EngineError> {
    engine.commit(engine.generation() + 1)
}

fn for_engine(change: Change, n_bytes: &mut usize) -> taperbook_engine::Change {
    match change {
        Change::Written { path, bytes, .. } => {
            *n_bytes += bytes.len();
            taperbook_engine::Change::Written { path: path.to_string(), bytes }
        }
        Change::Removed { path } => taperbook_engine::Change::Removed { path: path.to_string() },
        Change::Unreadable { path, why } => {
            taperbook_engine::Change::Unreadable { path: path.to_string(), why }
        }
    }
}

fn state(path: &std::path::Path) -> impl FnOnce(std::io::Error) -> KeeperError + use<'_> {
    |error| KeeperError::State(unusable(path)(error))
}

fn remove(path: &std::path::Path) -> Result<(), KeeperError> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(state(path)(error)),
        _ => Ok(()),
    }
}

impl From<KeeperError> for DaemonError {
    fn from(error: KeeperError) -> Self {
        match error {
            KeeperError::Folder(error) => Self::Folder(error),
            KeeperError::State(error) => Self::State(error),
            KeeperError::Engine(error) => Self::Engine(error),
        }
    }
}

impl From<KeeperError> for AskError {
    fn from(error: KeeperError) -> Self {
        match error {
            KeeperError::Folder(error) => Self::Folder(error),
            KeeperError::State(error) => Self::State(error),
            KeeperError::Engine(error) => Self::Engine(error),
        }
    }
}
