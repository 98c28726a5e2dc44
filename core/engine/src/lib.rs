//! Applies changes of the shop folder and answers questions about it.
//!
//! The engine owns the truth: entries of records, the index, what depends on what.
//! [`Engine::apply`] takes changes, [`Engine::examine`] runs the plugins, [`Engine::commit`] publishes a [`Snapshot`],
//! and a snapshot never changes and answers every [`Request`].
//! It knows nothing of watching, sockets, pages or screens, and keeps no text of a record: it reads the file again.
//!
//! ```
//! use std::sync::Arc;
//! use taperbook_engine::{Answer, Change, Engine, Files, Request, Setup};
//!
//! struct NoFiles;
//! impl Files for NoFiles {
//!     fn read(&self, path: &str) -> std::io::Result<Vec<u8>> {
//!         Err(std::io::Error::new(std::io::ErrorKind::NotFound, path.to_owned()))
//!     }
//! }
//!
//! let mut engine = Engine::open(Setup { state_dir: None, plugins: Vec::new(), files: Arc::new(NoFiles) }).unwrap();
//! engine.apply(vec![Change::Written { path: "notes/tape.md".into(), bytes: b"Tape the mark first.".to_vec() }]);
//! engine.examine(usize::MAX);
//! let snapshot = engine.commit(1).unwrap();
//! let Answer::Find(found) = snapshot.answer(&Request::Find { query: "tape".into(), limit: 5 }) else { panic!() };
//! assert_eq!(found.hits[0].record, "notes/tape");
//! ```

mod advices;
mod answer;
mod ask;
mod book;
mod closed;
mod engine;
mod entry;
mod examine;
mod graph;
mod ledger;
mod memo;
mod overlay;
mod packed;
mod snapshot;
mod table;

pub use ask::{
    Answer, CheckAnswer, FaultsAnswer, FindAnswer, FittingsAsked, FlagAnswer, FlagExplanation,
    FlagsAnswer, GuidesAsked, HandoverAsked, HitAnswer, NameAnswer, NamesAnswer, ProblemAnswer,
    Refusal, Request, SheetAsked, ShowAnswer, StatusAnswer, TryAnswer, TryTarget, Unreadable,
};
pub use engine::{Change, Engine, EngineError, Files, Setup};
pub use overlay::Overlay;
pub use snapshot::Snapshot;
