//! The engine with the manifest of what it has taken in: the same for a daemon and for a single question.
//!
//! Index and manifest are one truth. The manifest is written after a commit with the commit's generation,
//! so one that names another generation than the engine belongs to something else: to a commit that a killed
//! process did not finish, or to an index that was lost. Then both begin anew. A manifest that is behind can't
//! be caught up with, since it does not know what the index has that is gone from the folder.

use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Arc;

use taperbook_engine::{Engine, EngineError, Setup, Snapshot};
use taperbook_folder::{Change, Dirty, Folder, FolderError, Manifest, ManifestError};

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
    /// The listener wanted no more. The manifest knows of changes that the engine does not: the keeper is of no
    /// further use.
    Stopped,
}

/// Somebody who follows a look at the folder.
pub(crate) trait Listener {
    /// A change was found; it is handed to the engine a little later.
    fn found(&mut self, change: &Change);

    /// Some changes were handed to the engine, and more are to come.
    fn handed(&mut self, engine: &mut Engine) -> ControlFlow<()>;
}

/// The engine is handed changes when there are so many of them, since it reads them in parallel…
const CHUNK: usize = 1000;
/// …or when they hold so many bytes.
const CHUNK_BYTES: usize = 16 << 20;

impl Keeper {
    /// Opens the index of a shop folder with what is known of its files; the caller holds the lock.
    pub(crate) fn open(shop: &Shop, place: &Place) -> Result<Self, KeeperError> {
        let folder = Folder::open(&place.folder).map_err(KeeperError::Folder)?;
        let manifest_path = place.manifest();
        let engine_dir = place.engine();
        let setup = || Setup {
            state_dir: Some(engine_dir.clone()),
            plugins: (shop.plugins)(),
            files: Arc::new(FolderFiles { root: place.folder.clone() }),
        };
        std::fs::create_dir_all(&engine_dir).map_err(state(&engine_dir))?;
        let mut engine = Engine::open(setup()).map_err(KeeperError::Engine)?;
        // A manifest that can't be read is no reason to tell anybody: everything is read again.
        let mut manifest = Manifest::read(&manifest_path).unwrap_or_default();
        if engine.generation() == 0 || manifest.generation != engine.generation() {
            manifest = Manifest::default();
            // It must not be there when a new index has come to the generation that it names.
            remove(&manifest_path)?;
            if engine.generation() != 0 {
                drop(engine);
                std::fs::remove_dir_all(&engine_dir).map_err(state(&engine_dir))?;
                std::fs::create_dir_all(&engine_dir).map_err(state(&engine_dir))?;
                engine = Engine::open(setup()).map_err(KeeperError::Engine)?;
            }
        }
        Ok(Self { engine, folder, manifest, manifest_path })
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
        let mut flow = ControlFlow::Continue(());
        let looked = self.folder.reconcile(&mut self.manifest, dirty, |change| {
            if flow.is_break() {
                return;
            }
            listener.found(&change);
            n_changes += 1;
            let change = for_engine(change, &mut n_bytes);
            chunk.push(change);
            if CHUNK <= chunk.len() || CHUNK_BYTES <= n_bytes {
                engine.apply(std::mem::take(&mut chunk));
                n_bytes = 0;
                flow = listener.handed(engine);
            }
        });
        if flow.is_break() {
            return Err(Unfinished::Stopped);
        }
        // Also when the folder went away halfway: the manifest has these changes already.
        if !chunk.is_empty() {
            engine.apply(chunk);
        }
        looked.map(|()| n_changes).map_err(|error| Unfinished::Folder(error, n_changes))
    }

    /// Publishes what the engine has.
    pub(crate) fn commit(&mut self) -> Result<Arc<Snapshot>, EngineError> {
        commit(&mut self.engine)
    }

    /// Writes the manifest for the engine's last commit; nothing may have been taken in since.
    ///
    /// When it fails, the next start reads everything again.
    pub(crate) fn save(&mut self) -> Result<(), ManifestError> {
        self.manifest.generation = self.engine.generation();
        self.manifest.write(&self.manifest_path)
    }

    /// Whether no file was taken in yet.
    pub(crate) fn is_new(&self) -> bool {
        self.engine.generation() == 0
    }

    /// Counts the files that a look at everything will read when the keeper is new.
    pub(crate) fn count_records(&self) -> usize {
        count_records(self.folder.root())
    }

    /// Changes whenever the key of a file does, also where its content stayed.
    pub(crate) fn keys(&self) -> u64 {
        self.manifest.records().fold(0, |sum, (_, key)| {
            let times = key.mtime_ns.cast_unsigned().rotate_left(17) ^ key.ctime_ns.cast_unsigned();
            sum.wrapping_add(
                (times ^ key.inode.rotate_left(34)).wrapping_mul(0x9E37_79B9_7F4A_7C15),
            )
        })
    }
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
