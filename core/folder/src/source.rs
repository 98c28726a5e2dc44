//! Where events come from: the library that asks the system, behind a trait of our own.
//!
//! This is the only file that names the library. Nothing here decides what an event means.

use std::path::{Path, PathBuf};
use std::sync::mpsc::Sender;

use notify::event::{AccessKind, AccessMode, ModifyKind, RenameMode};
use notify::{
    Config, ErrorKind, EventKind, EventKindMask, RecommendedWatcher, RecursiveMode,
    WatchPathConfig, Watcher as _,
};

use crate::watch_loop::Message;

/// Something that watches directories, each by itself.
pub(crate) trait Source: Send {
    /// Watches one directory, not what is below it.
    fn watch(&mut self, directory: &Path, link: Link) -> Result<(), NotWatched>;

    /// Stops watching one directory; one that is not watched is no error.
    fn unwatch(&mut self, directory: &Path);
}

/// What to do when the path of the directory is a link.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Link {
    Follow,
    DontFollow,
}

/// Why a directory is not watched.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum NotWatched {
    /// It is not there any more.
    Gone,
    Because(String),
}

/// Makes a source that sends what it sees to the inlet.
pub(crate) type MakeSource = Box<dyn FnMut(Inlet) -> Result<Box<dyn Source>, String> + Send>;

/// What a source tells.
#[derive(Debug)]
pub(crate) enum Hint {
    Path {
        kind: Kind,
        path: PathBuf,
    },
    /// Some events are lost, for this reason.
    Lost(String),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// It was closed after writing.
    Closed,
    /// It was moved here.
    Arrived,
    Created,
    Modified,
    /// Something about it changed, such as its permissions.
    Attributes,
    /// It was removed or moved away.
    Gone,
}

/// Where a source puts its hints; it never blocks.
///
/// It bears the number of its source, so that what an old source still sends is not taken for
/// the word of the one that replaced it.
#[derive(Debug, Clone)]
pub(crate) struct Inlet {
    pub(crate) source: u64,
    pub(crate) messages: Sender<Message>,
}

impl Inlet {
    pub(crate) fn send(&self, hint: Hint) {
        // The loop has ended when this fails, and nobody wants the hint any more.
        let _ = self.messages.send(Message::Hint { source: self.source, hint });
    }
}

/// Makes the source that asks the operating system.
pub(crate) fn system_source(inlet: Inlet) -> Result<Box<dyn Source>, String> {
    let config = Config::default()
        // Without the closing of files that were only read, a reader can't flood the queue.
        .with_event_kinds(EventKindMask::CORE | EventKindMask::ACCESS_CLOSE)
        .with_follow_symlinks(false);
    let handler = move |event| match event {
        Ok(event) => hints(event).for_each(|hint| inlet.send(hint)),
        Err(error) => inlet.send(Hint::Lost(format!("watching failed: {}", words(&error)))),
    };
    match RecommendedWatcher::new(handler, config) {
        Ok(watcher) => Ok(Box::new(SystemSource { watcher })),
        Err(error) => Err(words(&error)),
    }
}

struct SystemSource {
    watcher: RecommendedWatcher,
}

impl Source for SystemSource {
    fn watch(&mut self, directory: &Path, link: Link) -> Result<(), NotWatched> {
        let config = WatchPathConfig::new(RecursiveMode::NonRecursive)
            .with_dereference_symlinks(link == Link::Follow);
        self.watcher.watch_with(directory, config).map_err(|error| match error.kind {
            ErrorKind::PathNotFound => NotWatched::Gone,
            ErrorKind::Io(error) if error.kind() == std::io::ErrorKind::NotFound => {
                NotWatched::Gone
            }
            _ => NotWatched::Because(words(&error)),
        })
    }

    fn unwatch(&mut self, directory: &Path) {
        // It fails for a directory that went away, whose watch went with it.
        let _ = self.watcher.unwatch(directory);
    }
}

/// Says an error of the library in words for the builder.
fn words(error: &notify::Error) -> String {
    match &error.kind {
        ErrorKind::MaxFilesWatch => "the system's limit of watched directories is reached \
            (raise `fs.inotify.max_user_watches`)"
            .to_owned(),
        // EMFILE, see inotify_init(2).
        ErrorKind::Io(error) if error.raw_os_error() == Some(24) => {
            "the system's limit of watchers is reached (raise `fs.inotify.max_user_instances`)"
                .to_owned()
        }
        ErrorKind::Io(error) => error.to_string(),
        _ => error.to_string(),
    }
}

fn hints(event: notify::Event) -> impl Iterator<Item = Hint> {
    let lost = event.need_rescan();
    let kind = if lost { None } else { kind(event.kind) };
    let lost = lost.then(|| Hint::Lost("more happened at once than the system keeps".to_owned()));
    let paths = event.paths.into_iter();
    lost.into_iter().chain(paths.filter_map(move |path| kind.map(|kind| Hint::Path { kind, path })))
}

fn kind(kind: EventKind) -> Option<Kind> {
    match kind {
        EventKind::Access(AccessKind::Close(AccessMode::Write)) => Some(Kind::Closed),
        // Both halves of a move have come as events of their own.
        EventKind::Modify(ModifyKind::Name(RenameMode::Both)) => None,
        EventKind::Modify(ModifyKind::Name(RenameMode::From)) => Some(Kind::Gone),
        EventKind::Modify(ModifyKind::Name(_)) | EventKind::Any => Some(Kind::Arrived),
        EventKind::Modify(ModifyKind::Metadata(_)) => Some(Kind::Attributes),
        EventKind::Modify(_) => Some(Kind::Modified),
        EventKind::Create(_) => Some(Kind::Created),
        EventKind::Remove(_) => Some(Kind::Gone),
        EventKind::Access(_) | EventKind::Other => None,
    }
}

#[cfg(test)]
mod tests {
    use notify::event::{CreateKind, DataChange, Flag, RemoveKind};

    use super::*;

    #[test]
    fn an_overflow_is_a_loss() {
        let event = notify::Event::new(EventKind::Other).set_flag(Flag::Rescan);
        let hints: Vec<_> = hints(event).collect();
        assert!(matches!(&hints[..], [Hint::Lost(_)]), "{hints:?}");
    }

    #[test]
    fn kinds_keep_their_meaning() {
        use notify::event::EventKind::*;
        assert_eq!(kind(Access(AccessKind::Close(AccessMode::Write))), Some(Kind::Closed));
        assert_eq!(kind(Access(AccessKind::Close(AccessMode::Read))), None);
        assert_eq!(kind(Create(CreateKind::File)), Some(Kind::Created));
        assert_eq!(kind(Remove(RemoveKind::Folder)), Some(Kind::Gone));
        assert_eq!(kind(Modify(ModifyKind::Name(RenameMode::From))), Some(Kind::Gone));
        assert_eq!(kind(Modify(ModifyKind::Name(RenameMode::To))), Some(Kind::Arrived));
        assert_eq!(kind(Modify(ModifyKind::Name(RenameMode::Both))), None);
        assert_eq!(kind(Modify(ModifyKind::Data(DataChange::Any))), Some(Kind::Modified));
    }
}
