//! The thread of a watcher: takes hints, lets them settle, and tells where to look.
//!
//! Whatever might have made it miss something (a full queue, an error, a clock that jumped,
//! another root, an hour) has one answer: a new source, all directories watched anew, and
//! everything dirty. A new source and not only a new scan, because the watches of the old one
//! may belong to directories that are elsewhere by now.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender};
use std::time::{Duration, Instant, SystemTime};

use crate::coverage::{Coverage, no_events};
use crate::filesystem::without_events;
use crate::folder::Identity;
use crate::path::{is_entered, is_visible, nested_shop, shown};
use crate::settle::Settling;
use crate::source::{Hint, Inlet, Kind, Link, MakeSource, Source};
use crate::watcher::Shared;
use crate::{Dirty, Event, Folder, Mode, Settle, is_record};

/// How far the clock on the wall may drift from the steady one between two wake-ups.
const CLOCK_SLACK: Duration = Duration::from_secs(3);

/// So many messages are taken before what is due is told.
const MOST_AT_ONCE: usize = 10_000;

/// What the loop is sent.
#[derive(Debug)]
pub(crate) enum Message {
    Hint {
        /// The number of the source that sent it.
        source: u64,
        hint: Hint,
    },
    /// A fence that will have no event.
    Fence(u64),
    /// A fence whose event should have come long ago.
    Overdue(u64),
    /// Only shows the sender whether the loop is there.
    Wake,
    Stop,
}

pub(crate) struct WatchLoop {
    folder: Folder,
    settle: Settle,
    shared: Arc<Shared>,
    make_source: MakeSource,
    messages: Sender<Message>,
    inbox: Receiver<Message>,
    outbox: Sender<Event>,
    /// Whether somebody still takes the events.
    is_heard: bool,

    source: Option<Box<dyn Source>>,
    source_number: u64,
    coverage: Coverage,
    /// Why the whole folder is polled, if it is.
    polled: Option<String>,
    /// Which folder is watched; `None` while none is there.
    identity: Option<Identity>,

    settling: Settling,
    /// The highest number of a fence that was answered.
    answered: u64,
    begun: Instant,
    restart_due: Option<Instant>,
    next_poll: Option<Instant>,
    clock: (Instant, SystemTime),
}

impl WatchLoop {
    /// Sets all watches and sends the first event.
    pub(crate) fn start(
        folder: Folder,
        settle: Settle,
        shared: Arc<Shared>,
        make_source: MakeSource,
        (messages, inbox): (Sender<Message>, Receiver<Message>),
        outbox: Sender<Event>,
    ) -> Self {
        let now = Instant::now();
        let mut watch_loop = Self {
            coverage: Coverage::new(folder.root()),
            folder,
            settle,
            shared,
            make_source,
            messages,
            inbox,
            outbox,
            is_heard: true,
            source: None,
            source_number: 0,
            polled: None,
            identity: None,
            settling: Settling::default(),
            answered: 0,
            begun: now,
            restart_due: None,
            next_poll: None,
            clock: (now, SystemTime::now()),
        };
        watch_loop.restart();
        watch_loop
    }

    /// Runs until it is stopped or nobody takes the events any more.
    pub(crate) fn run(mut self) {
        while self.is_heard {
            let wait = self.next_wake().saturating_duration_since(Instant::now());
            match self.inbox.recv_timeout(wait) {
                Ok(Message::Stop) | Err(RecvTimeoutError::Disconnected) => return,
                Ok(message) => self.take(message),
                Err(RecvTimeoutError::Timeout) => {}
            }
            for _ in 0..MOST_AT_ONCE {
                match self.inbox.try_recv() {
                    Ok(Message::Stop) => return,
                    Ok(message) => self.take(message),
                    Err(_) => break,
                }
            }
            self.tell_what_is_due();
        }
    }

    fn next_wake(&self) -> Instant {
        let rescan = self.begun + self.settle.rescan_every;
        let others = [self.restart_due, self.next_poll, self.settling.next_due()];
        others.into_iter().flatten().fold(rescan, Instant::min)
    }

    fn take(&mut self, message: Message) {
        match message {
            Message::Hint { source, hint } if source == self.source_number => match hint {
                Hint::Path { kind, path } => self.take_hint(kind, &path),
                Hint::Lost(why) => {
                    self.send(Event::Trouble(format!("{why}; the folder is scanned again")));
                    self.ask_restart();
                }
            },
            Message::Hint { .. } | Message::Wake | Message::Stop => {}
            Message::Fence(number) => {
                if !self.shared.fences.directory().is_dir() {
                    // Beginning anew makes the directory again and watches it.
                    self.restart_due = Some(self.begun);
                }
                self.shared.fences.lower(number);
                self.restart_or_mark_all();
                self.tell_fence(number);
            }
            // Its event may have come between, while this message waited behind it.
            Message::Overdue(number) if number <= self.answered => {}
            Message::Overdue(number) => {
                let why = "an event that had to come did not; the folder is watched anew";
                self.send(Event::Trouble(why.to_owned()));
                self.shared.fences.lower(number);
                self.restart();
                self.tell_fence(number);
            }
        }
    }

    fn take_hint(&mut self, kind: Kind, path: &Path) {
        if let Some(number) = self.shared.fences.number(path) {
            if kind != Kind::Gone {
                self.answer(number);
            }
        } else if path == self.shared.fences.directory() {
            if kind == Kind::Gone {
                self.ask_restart();
            }
        } else if let Ok(relative) = path.strip_prefix(self.folder.root()) {
            let is_root = relative.as_os_str().is_empty();
            if is_root && kind == Kind::Gone {
                self.ask_restart();
            } else if is_visible(relative) {
                self.mark(kind, relative);
            }
        }
    }

    /// Marks a path of the shop folder, and follows directories that come and go.
    ///
    /// What is there now decides, not what the event says: by the time it is taken, a directory
    /// may have been replaced by another one.
    fn mark(&mut self, kind: Kind, relative: &Path) {
        let now = Instant::now();
        let path = relative.to_path_buf();
        if let Some(folder) = nested_shop(relative) {
            // It comes or goes as a whole with this file.
            return self.settling.at_once(folder.to_path_buf(), now);
        }
        match kind {
            Kind::Closed if is_record(relative) => self.settling.at_once(path, now),
            Kind::Modified if is_record(relative) => {
                self.settling.modified(path, now, &self.settle);
            }
            Kind::Closed | Kind::Modified => {}
            Kind::Arrived | Kind::Created | Kind::Gone if self.is_directory(relative) => {
                self.cover(relative);
                self.settling.at_once(path, now);
            }
            Kind::Gone => {
                if let Some(source) = self.source.as_deref_mut()
                    && self.coverage.knows(relative)
                {
                    self.coverage.forget(source, relative);
                    self.show_mode();
                }
                self.settling.removed(path, now, &self.settle);
            }
            Kind::Arrived if is_record(relative) => self.settling.at_once(path, now),
            Kind::Arrived | Kind::Created | Kind::Attributes => {
                if self.coverage.unwatched().contains_key(relative) {
                    self.cover(relative);
                }
                if is_record(relative) || self.is_directory_or_link(relative) {
                    self.settling.modified(path, now, &self.settle);
                }
            }
        }
    }

    /// Whether a path is a directory that can be covered.
    fn is_directory(&self, relative: &Path) -> bool {
        relative.iter().all(is_entered)
            && self.folder.root().join(relative).symlink_metadata().is_ok_and(|it| it.is_dir())
    }

    fn is_directory_or_link(&self, relative: &Path) -> bool {
        let metadata = self.folder.root().join(relative).symlink_metadata();
        metadata.is_ok_and(|metadata| metadata.is_dir() || metadata.is_symlink())
    }

    fn cover(&mut self, relative: &Path) {
        if let Some(source) = self.source.as_deref_mut() {
            self.coverage.cover(source, relative);
            self.show_mode();
        }
    }

    /// Answers a fence whose event came: all that is still settling is told before.
    fn answer(&mut self, number: u64) {
        // One that is gone was answered already, or somebody has deleted it before its event was taken.
        let stood = self.shared.fences.lower(number);
        if !stood && number <= self.answered {
            return;
        }
        if self.restart_due.is_some() || self.polled.is_some() || self.is_root_another() {
            self.restart_or_mark_all();
        } else {
            let mut paths = self.settling.take_all();
            paths.extend(self.coverage.unwatched_tops());
            self.mark_dirty(paths);
        }
        self.tell_fence(number);
    }

    fn tell_fence(&mut self, number: u64) {
        self.answered = self.answered.max(number);
        self.send(Event::Fence(number));
    }

    fn tell_what_is_due(&mut self) {
        let now = Instant::now();
        if self.is_clock_off() {
            self.ask_restart();
        }
        let rescan = self.begun + self.settle.rescan_every;
        if rescan <= now || self.restart_due.is_some_and(|due| due <= now) {
            self.restart();
        }
        if self.next_poll.is_some_and(|due| due <= now) {
            self.poll();
        }
        let due = self.settling.take_due(now);
        if due.is_empty() {
            return;
        }
        if self.is_root_another() {
            self.restart();
        } else {
            self.mark_dirty(due);
        }
    }

    fn mark_dirty(&mut self, paths: BTreeSet<PathBuf>) {
        if !paths.is_empty() {
            self.send(Event::Dirty(Dirty::Paths(paths)));
        }
    }

    /// Looks at what can't be watched, and tries again to watch it.
    fn poll(&mut self) {
        self.next_poll = Some(Instant::now() + self.settle.poll_every);
        if self.source.is_some() && !self.shared.is_fence_watched.load(Ordering::SeqCst) {
            // Hardly anything else is watched either, so everything is tried again.
            return self.restart();
        }
        if self.polled.is_some() || self.is_root_another() {
            return self.restart_or_mark_all();
        }
        let tops = self.coverage.unwatched_tops();
        for top in &tops {
            self.cover(top);
        }
        self.mark_dirty(tops);
        self.show_mode();
    }

    /// Marks everything dirty, with a new source where the one there is can't be relied upon.
    fn restart_or_mark_all(&mut self) {
        let needs_source = self.source.is_none() && !self.settle.force_polling;
        if needs_source || self.restart_due.is_some() || self.is_root_another() {
            self.restart();
        } else {
            self.settling.take_all();
            self.send(Event::Dirty(Dirty::Everything));
        }
    }

    fn ask_restart(&mut self) {
        let earliest = self.begun + self.settle.rescan_pause;
        self.restart_due.get_or_insert(earliest.max(Instant::now()));
    }

    /// Begins anew: watch, then mark everything dirty.
    fn restart(&mut self) {
        self.begun = Instant::now();
        self.restart_due = None;
        self.source = None;
        self.source_number += 1;
        self.coverage = Coverage::new(self.folder.root());
        self.settling = Settling::default();
        self.identity = self.folder.identity().ok();
        self.polled = if self.settle.force_polling {
            Some("polling was asked for".to_owned())
        } else {
            without_events(self.folder.root()).map(no_events)
        };
        let is_fence_watched = !self.settle.force_polling && self.watch_all();
        // Before those that stand are listed, see `Watcher::fence`.
        self.shared.is_fence_watched.store(is_fence_watched, Ordering::SeqCst);
        let standing = self.shared.fences.standing();
        self.next_poll = None;
        self.show_mode();
        self.send(Event::Dirty(Dirty::Everything));
        for number in standing {
            if self.shared.fences.lower(number) {
                self.tell_fence(number);
            }
        }
    }

    /// Makes a source, sets all its watches, and tells whether the fences are watched.
    fn watch_all(&mut self) -> bool {
        let inlet = Inlet { source: self.source_number, messages: self.messages.clone() };
        let mut source = match (self.make_source)(inlet) {
            Ok(source) => source,
            Err(why) => {
                self.polled = Some(why);
                return false;
            }
        };
        // The fences come first: where the limit leaves one watch, it is worth most here.
        // Their directory may have been deleted with the rest of the state. Where it can't be
        // made or watched, a full scan answers a fence.
        let fences = &self.shared.fences;
        let is_fence_watched = fences.make_directory().is_ok()
            && source.watch(fences.directory(), Link::Follow).is_ok();
        if self.identity.is_some() {
            self.coverage.cover(&mut *source, Path::new(""));
        }
        self.source = Some(source);
        is_fence_watched
    }

    fn is_root_another(&self) -> bool {
        self.folder.identity().ok() != self.identity
    }

    fn is_clock_off(&mut self) -> bool {
        let (steady, wall) =
            std::mem::replace(&mut self.clock, (Instant::now(), SystemTime::now()));
        is_off(self.clock.0 - steady, wall, self.clock.1)
    }

    /// Brings the mode up to date, and says so when it is another one and a bad one.
    fn show_mode(&mut self) {
        let mode = self.current_mode();
        if mode == Mode::Live {
            self.next_poll = None;
        } else {
            let next = Instant::now() + self.settle.poll_every;
            self.next_poll.get_or_insert(next);
        }
        if self.shared.set_mode(&mode) && mode != Mode::Live {
            self.send(Event::Trouble(mode.to_string()));
        }
    }

    fn current_mode(&self) -> Mode {
        let unwatched = self.coverage.unwatched();
        if self.identity.is_none() {
            let why = "the shop folder is not there".to_owned();
            return Mode::Degraded { why, directories: vec![shown(Path::new(""))] };
        }
        match (&self.polled, unwatched.values().next()) {
            (Some(why), _) => Mode::Polling { why: why.clone() },
            (None, None) => Mode::Live,
            (None, Some(why)) => Mode::Degraded {
                why: why.clone(),
                directories: unwatched.keys().map(|path| shown(path)).collect(),
            },
        }
    }

    fn send(&mut self, event: Event) {
        self.is_heard &= self.outbox.send(event).is_ok();
    }
}

/// Whether the clock on the wall went another way than the steady one: it was set, or the
/// machine slept.
fn is_off(steady: Duration, before: SystemTime, after: SystemTime) -> bool {
    let drift = match after.duration_since(before) {
        Ok(wall) => wall.abs_diff(steady),
        Err(backwards) => backwards.duration() + steady,
    };
    CLOCK_SLACK < drift
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_was_set_or_a_sleep_is_noticed() {
        let at = |s: u64| SystemTime::UNIX_EPOCH + Duration::from_secs(s);
        let minute = Duration::from_secs(60);
        assert!(!is_off(minute, at(100_000), at(100_060)));
        assert!(!is_off(minute, at(100_000), at(100_062)));
        assert!(is_off(minute, at(100_000), at(13_660)), "set back a day");
        assert!(is_off(minute, at(100_000), at(103_600)), "slept for an hour");
        assert!(is_off(minute, at(100_000), at(100_000)), "set back a minute");
    }
}
