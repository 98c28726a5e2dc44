//! Advice that somebody waits for goes before examinations, which would share its cores and for which nobody waits as long.
//!
//! After each advice that went first one slice is examined, so that a hundred questions don't keep the siblings waiting.

use std::sync::Weak;
use std::time::{Duration, Instant};

use crate::event::AtWork;

/// For whom examinations give way.
#[derive(Default)]
pub(crate) struct Precedence {
    /// Those who work out an answer, and until when they are waited for.
    at_work: Option<(Vec<Weak<AtWork>>, Instant)>,
    /// Examinations gave way, and there was none since.
    is_owed: bool,
}

/// No advice is waited for longer than this: it may be one that goes on for seconds.
const LONGEST: Duration = Duration::from_millis(250);

impl Precedence {
    /// Whether somebody who asks may go first now.
    pub(crate) fn is_free(&self) -> bool {
        !self.is_owed
    }

    /// No slice was examined before somebody was answered.
    pub(crate) fn gave_way(&mut self) {
        self.is_owed = true;
    }

    /// Some of those who were answered work on.
    pub(crate) fn begun(&mut self, at_work: Vec<Weak<AtWork>>, now: Instant) {
        if self.at_work.is_none() && !at_work.is_empty() {
            self.at_work = Some((at_work, now + LONGEST));
            self.is_owed = true;
        }
    }

    /// Until when examinations give way, if they do.
    pub(crate) fn until(&self, now: Instant) -> Option<Instant> {
        let (at_work, until) = self.at_work.as_ref()?;
        let is_at_work = at_work.iter().any(|at_work| 0 < at_work.strong_count());
        (is_at_work && now < *until).then_some(*until)
    }

    /// A slice was examined.
    pub(crate) fn examined(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::sync::mpsc::channel;

    use super::*;
    use crate::event::Event;

    #[test]
    fn examinations_give_way_until_the_answer_is_there_and_then_it_is_their_turn() {
        let (events, inbox) = channel();
        let (mut precedence, now) = (Precedence::default(), Instant::now());
        assert!(precedence.is_free() && precedence.until(now).is_none());
        let at_work = Arc::new(AtWork::new(events));
        precedence.gave_way();
        precedence.begun(vec![Arc::downgrade(&at_work)], now);
        assert!(precedence.until(now).is_some_and(|until| now < until));
        assert!(precedence.until(now + LONGEST).is_none(), "no longer than that");
        drop(at_work);
        assert!(matches!(inbox.try_recv(), Ok(Event::Answered)), "the engine's thread hears of it");
        assert!(precedence.until(now).is_none());
        assert!(!precedence.is_free(), "a slice is owed");
        precedence.examined();
        assert!(precedence.is_free());
    }

    #[test]
    fn nobody_goes_first_twice_in_a_row() {
        let (mut precedence, now) = (Precedence::default(), Instant::now());
        let at_work = || Arc::new(AtWork::new(channel().0));
        let (first, second) = (at_work(), at_work());
        precedence.begun(vec![Arc::downgrade(&first)], now);
        drop(first);
        precedence.begun(vec![Arc::downgrade(&second)], now);
        assert!(precedence.until(now).is_none());
    }
}
