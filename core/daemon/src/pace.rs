//! When what is done in rounds is due: a commit, a slice of examinations, the writing of the manifest, letting go.
//!
//! Nothing here is done; the caller does it and says when.

use std::ops::RangeInclusive;
use std::time::{Duration, Instant};

/// A commit follows when nothing has come for this long, so that several files that are saved together are one…
const IDLE: Duration = Duration::from_millis(4);
/// …or when the first change has waited this long, but not before a pause after the last commit: as long as that took,
/// and within these bounds.
const LONGEST_BACKLOG: Duration = Duration::from_millis(12);
const PAUSE: RangeInclusive<Duration> = Duration::from_millis(8)..=Duration::from_millis(80);
/// While records are still being examined, each of which is written again afterwards, what was saved waits so long…
const LONGEST_UNEXAMINED: Duration = Duration::from_millis(100);
/// …and what was only examined so long.
const LONGEST_EXAMINED: Duration = Duration::from_secs(2);

/// What was taken in and not committed.
#[derive(Debug, Default)]
pub(crate) struct Backlog {
    /// When the first and the last change was taken in.
    changed: Option<(Instant, Instant)>,
    /// When the first record was examined.
    examined: Option<Instant>,
    /// No commit before this.
    not_before: Option<Instant>,
}

impl Backlog {
    pub(crate) fn is_empty(&self) -> bool {
        self.changed.is_none() && self.examined.is_none()
    }

    /// Changes were taken in.
    pub(crate) fn add(&mut self, now: Instant) {
        self.changed = Some((self.changed.map_or(now, |(first, _)| first), now));
    }

    /// Records were examined; nobody need wait for more of that once it is done.
    pub(crate) fn examined(&mut self, now: Instant) {
        self.examined.get_or_insert(now);
    }

    /// All of it was committed, from then until now.
    pub(crate) fn committed(&mut self, begun: Instant, now: Instant) {
        let pause = (now - begun).clamp(*PAUSE.start(), *PAUSE.end());
        *self = Self { not_before: Some(now + pause), ..Self::default() };
    }

    /// When it has to be committed while so many records are to be examined.
    pub(crate) fn due(&self, pending: usize) -> Option<Instant> {
        let (quiet, longest, longest_examined) = match pending {
            0 => (IDLE, LONGEST_BACKLOG, Duration::ZERO),
            _ => (LONGEST_UNEXAMINED, LONGEST_UNEXAMINED, LONGEST_EXAMINED),
        };
        let changed = self.changed.map(|(first, last)| (last + quiet).min(first + longest));
        let examined = self.examined.map(|first| first + longest_examined);
        let due = changed.into_iter().chain(examined).min()?;
        Some(self.not_before.map_or(due, |not_before| due.max(not_before)))
    }
}

/// How many records are examined before anything else is looked at.
#[derive(Debug)]
pub(crate) struct Slice {
    at_most: usize,
}

/// A slice should take about this long: longer holds up an edit, shorter leaves a core idle at its end.
const SLICE: Duration = Duration::from_millis(40);
const SMALLEST_SLICE: usize = 8;
/// What comes after many that cost little may cost much.
const LARGEST_SLICE: usize = 128;

impl Default for Slice {
    fn default() -> Self {
        Self { at_most: 32 }
    }
}

impl Slice {
    pub(crate) fn at_most(&self) -> usize {
        self.at_most
    }

    /// A slice took this long.
    pub(crate) fn took(&mut self, time: Duration) {
        if time < SLICE / 2 {
            self.at_most = (2 * self.at_most).min(LARGEST_SLICE);
        } else if 2 * SLICE < time {
            self.at_most = (self.at_most / 2).max(SMALLEST_SLICE);
        }
    }
}

/// Writing the manifest costs time with the size of the shop, so under steady change it is not written at every
/// commit. After a kill, what has changed since it was written is read again.
#[derive(Debug, Default)]
pub(crate) struct SavePace {
    due: Option<Instant>,
    not_before: Option<Instant>,
}

/// Writing takes at most this part of the time…
const SAVE_SHARE: u32 = 20;
/// …and is done no more often than this.
const SAVE_PAUSE: Duration = Duration::from_secs(10);

impl SavePace {
    /// Something is known that the manifest on the disk does not have.
    pub(crate) fn edited(&mut self, now: Instant) {
        if self.due.is_none() {
            self.due = Some(self.not_before.unwrap_or(now));
        }
    }

    /// When the manifest has to be written.
    pub(crate) fn due(&self) -> Option<Instant> {
        self.due
    }

    /// It was written, from then until now.
    pub(crate) fn saved(&mut self, begun: Instant, now: Instant) {
        self.due = None;
        self.not_before = Some(now + SAVE_PAUSE.max((now - begun) * SAVE_SHARE));
    }
}

/// What was committed is merged in the background, so what can be let go of is looked at a while after the last commit,
/// and a few times more, each after twice as long; then nothing wakes anybody any more.
///
/// A rest that something has come into was for nothing; the next one waits for twice the quiet.
#[derive(Debug)]
pub(crate) struct RestPace {
    next: Option<(Instant, Duration)>,
    /// How long nothing must have come.
    quiet: Duration,
}

const FIRST_REST: Duration = Duration::from_millis(500);
const LAST_REST: Duration = Duration::from_secs(8);

impl Default for RestPace {
    fn default() -> Self {
        Self { next: None, quiet: FIRST_REST }
    }
}

impl RestPace {
    /// Something was committed.
    pub(crate) fn worked(&mut self, now: Instant) {
        self.next = Some((now + self.quiet, self.quiet));
    }

    /// Something has come into a rest.
    pub(crate) fn was_disturbed(&mut self) {
        self.quiet = LAST_REST.min(2 * self.quiet);
    }

    /// Nothing has come into a rest, at whose end the index begins to merge.
    pub(crate) fn was_quiet(&mut self, now: Instant) {
        self.quiet = FIRST_REST;
        self.worked(now);
    }

    /// When to look.
    pub(crate) fn due(&self) -> Option<Instant> {
        self.next.map(|(due, _)| due)
    }

    /// It was looked.
    pub(crate) fn rested(&mut self, now: Instant) {
        let longer = self.next.map(|(_, pause)| 2 * pause).filter(|pause| *pause <= LAST_REST);
        self.next = longer.map(|pause| (now + pause, pause));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_commit_waits_for_quiet_but_not_for_ever() {
        let start = Instant::now();
        let at = |ms| start + Duration::from_millis(ms);
        let mut backlog = Backlog::default();
        assert_eq!(backlog.due(0), None);
        backlog.add(at(0));
        assert_eq!(backlog.due(0), Some(at(4)));
        backlog.add(at(3));
        assert_eq!(backlog.due(0), Some(at(7)));
        backlog.add(at(11));
        assert_eq!(backlog.due(0), Some(at(12)));
        assert_eq!(backlog.due(3), Some(at(100)));
        backlog.examined(at(500));
        assert_eq!(backlog.due(3), Some(at(100)), "what was saved waits no longer for that");
        backlog.committed(at(500), at(510));
        assert!(backlog.is_empty());
        backlog.examined(at(600));
        assert_eq!(backlog.due(3), Some(at(2600)));
        assert_eq!(backlog.due(0), Some(at(600)), "what was examined at last is due at once");
        // Where commits take long there are fewer of them, but never none.
        for (took, pause) in [(4, 8), (20, 20), (900, 80)] {
            backlog.committed(at(1000), at(1000 + took));
            assert_eq!(backlog.due(0), None);
            backlog.add(at(1000 + took));
            assert_eq!(backlog.due(0), Some(at(1000 + took + pause)));
        }
    }

    #[test]
    fn a_slice_finds_its_size() {
        let mut slice = Slice::default();
        // Half a millisecond a record: 80 records fill a slice, so it stays between half of that and twice.
        for _ in 0..20 {
            let time = Duration::from_micros(500) * u32::try_from(slice.at_most()).unwrap();
            slice.took(time);
        }
        assert!((40..=160).contains(&slice.at_most()), "{slice:?}");
        (0..20).for_each(|_| slice.took(Duration::from_secs(9)));
        assert_eq!(slice.at_most(), SMALLEST_SLICE);
        (0..20).for_each(|_| slice.took(Duration::ZERO));
        assert_eq!(slice.at_most(), LARGEST_SLICE);
    }

    #[test]
    fn the_manifest_is_written_at_once_and_then_not_too_often() {
        let start = Instant::now();
        let at = |ms| start + Duration::from_millis(ms);
        let mut pace = SavePace::default();
        assert_eq!(pace.due(), None);
        pace.edited(at(5));
        pace.edited(at(7));
        assert_eq!(pace.due(), Some(at(5)));
        pace.saved(at(10), at(60));
        assert_eq!(pace.due(), None);
        pace.edited(at(70));
        assert_eq!(pace.due(), Some(at(60 + 10_000)));
        pace.saved(at(11_000), at(12_000));
        pace.edited(at(12_001));
        assert_eq!(pace.due(), Some(at(12_000 + 20 * 1000)));
    }

    #[test]
    fn a_rest_comes_to_an_end() {
        let start = Instant::now();
        let mut rest = RestPace::default();
        rest.rested(start);
        assert_eq!(rest.due(), None);
        rest.worked(start);
        let mut after = Vec::new();
        while let Some(due) = rest.due() {
            after.push((due - start).as_millis());
            rest.rested(due);
        }
        assert_eq!(after, [500, 1500, 3500, 7500, 15500]);
        rest.worked(start);
        assert_eq!(rest.due(), Some(start + FIRST_REST));
        // Where something keeps coming, rests are begun less and less often, but never given up.
        let mut waits = Vec::new();
        for _ in 0..6 {
            rest.was_disturbed();
            rest.worked(start);
            waits.push((rest.due().unwrap() - start).as_secs());
        }
        assert_eq!(waits, [1, 2, 4, 8, 8, 8]);
        rest.was_quiet(start);
        assert_eq!(rest.due(), Some(start + FIRST_REST));
    }
}
