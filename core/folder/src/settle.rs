//! When a path that an event named is looked at: at once, or after it has settled.
//!
//! Nothing here reads a clock or the disk; the caller passes both in.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// How long the watcher waits for what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settle {
    /// After a write without a close, this long without another one.
    pub quiet: Duration,
    /// A path that keeps changing is looked at after this long all the same.
    pub at_most: Duration,
    /// After a removal: many programs save by removing and writing anew.
    pub removed: Duration,
    /// Between two looks at what can't be watched.
    pub poll_every: Duration,
    /// Between two full scans while all is watched.
    pub rescan_every: Duration,
    /// Two full scans that trouble asks for are at least this far apart.
    pub rescan_pause: Duration,
    /// Never ask the system for events, and poll.
    pub force_polling: bool,
}

impl Default for Settle {
    fn default() -> Self {
        Self {
            quiet: Duration::from_millis(250),
            at_most: Duration::from_secs(1),
            removed: Duration::from_millis(150),
            poll_every: Duration::from_secs(3),
            rescan_every: Duration::from_secs(3600),
            rescan_pause: Duration::from_secs(1),
            force_polling: false,
        }
    }
}

/// The paths that wait, relative to the shop folder.
#[derive(Debug, Default)]
pub(crate) struct Settling {
    waiting: BTreeMap<PathBuf, Waiting>,
    /// No path is due before this, so that not every event looks through all that wait.
    earliest: Option<Instant>,
}

#[derive(Debug, Clone, Copy)]
struct Waiting {
    /// The first change that was not told yet.
    first: Instant,
    due: Instant,
}

impl Settling {
    /// A close after writing, or a file moved here: it is whole.
    pub(crate) fn at_once(&mut self, path: PathBuf, now: Instant) {
        self.wait(path, now, now);
    }

    /// A write without a close, or a change of what is about the file.
    pub(crate) fn modified(&mut self, path: PathBuf, now: Instant, settle: &Settle) {
        self.delay(path, now, settle.quiet, settle);
    }

    /// A removal, or a file moved away.
    pub(crate) fn removed(&mut self, path: PathBuf, now: Instant, settle: &Settle) {
        self.delay(path, now, settle.removed, settle);
    }

    /// Takes out what is due.
    pub(crate) fn take_due(&mut self, now: Instant) -> BTreeSet<PathBuf> {
        let mut due = BTreeSet::new();
        if self.earliest.is_none_or(|earliest| now < earliest) {
            return due;
        }
        self.waiting.retain(|path, waiting| {
            if now < waiting.due {
                return true;
            }
            due.insert(path.clone());
            false
        });
        self.earliest = self.waiting.values().map(|waiting| waiting.due).min();
        due
    }

    /// Takes out everything, due or not.
    pub(crate) fn take_all(&mut self) -> BTreeSet<PathBuf> {
        self.earliest = None;
        std::mem::take(&mut self.waiting).into_keys().collect()
    }

    /// When to ask for what is due next.
    pub(crate) fn next_due(&self) -> Option<Instant> {
        self.earliest
    }

    fn delay(&mut self, path: PathBuf, now: Instant, delay: Duration, settle: &Settle) {
        let first = self.waiting.get(&path).map_or(now, |waiting| waiting.first);
        self.wait(path, now, (now + delay).min(first + settle.at_most));
    }

    fn wait(&mut self, path: PathBuf, now: Instant, due: Instant) {
        let new = Waiting { first: now, due };
        self.waiting.entry(path).or_insert(new).due = due;
        self.earliest = Some(self.earliest.map_or(due, |earliest| earliest.min(due)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: &str = "a.md";

    /// Plays events at given milliseconds and gives the times at which the path comes out.
    #[track_caller]
    fn check(events: &[(u64, Event)], expected_ms: &[u64]) {
        let (settle, start) = (Settle::default(), Instant::now());
        let mut settling = Settling::default();
        let mut came_out = Vec::new();
        for ms in 0..5_000 {
            let now = start + Duration::from_millis(ms);
            for (_, event) in events.iter().filter(|(at, _)| *at == ms) {
                match event {
                    Event::Close => settling.at_once(A.into(), now),
                    Event::Modify => settling.modified(A.into(), now, &settle),
                    Event::Remove => settling.removed(A.into(), now, &settle),
                }
            }
            if !settling.take_due(now).is_empty() {
                came_out.push(ms);
            }
        }
        assert_eq!(came_out, expected_ms);
        assert_eq!(settling.next_due(), None);
    }

    enum Event {
        Close,
        Modify,
        Remove,
    }
    use Event::*;

    #[test]
    fn a_close_comes_out_at_once() {
        check(&[(10, Modify), (12, Close)], &[12]);
    }

    #[test]
    fn a_write_without_a_close_waits_for_quiet() {
        check(&[(10, Modify), (200, Modify)], &[450]);
    }

    #[test]
    fn steady_writing_does_not_starve() {
        let steady: Vec<_> = (0..30).map(|i| (i * 100, Modify)).collect();
        check(&steady, &[1_000, 2_100, 3_150]);
    }

    #[test]
    fn a_removal_gets_a_second_look() {
        check(&[(10, Remove)], &[160]);
        check(&[(10, Remove), (20, Close)], &[20]);
    }

    #[test]
    fn all_can_be_taken_before_it_is_due() {
        let mut settling = Settling::default();
        settling.removed(A.into(), Instant::now(), &Settle::default());
        assert_eq!(settling.take_all(), BTreeSet::from([PathBuf::from(A)]));
        assert_eq!(settling.next_due(), None);
    }
}
