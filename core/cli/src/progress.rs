//! A progress bar for a first index that takes more than a second, on a terminal alone, and what it shows.

use std::cell::RefCell;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use taperbook_daemon::Progress;

/// Work that is over sooner than this shows no bar.
const PATIENCE: Duration = Duration::from_secs(1);

/// A bar that is drawn once the work takes long; it is taken away when it is dropped.
pub(crate) struct Bar {
    start: Instant,
    is_wanted: bool,
    drawn: RefCell<Option<ProgressBar>>,
}

impl Bar {
    pub(crate) fn new(is_wanted: bool) -> Self {
        Self { start: Instant::now(), is_wanted, drawn: RefCell::default() }
    }

    /// Takes the bar away, so that a line can be printed; it comes back with the next report.
    pub(crate) fn clear(&self) {
        if let Some(bar) = self.drawn.borrow_mut().take() {
            bar.finish_and_clear();
        }
    }

    /// Shows how far it is.
    pub(crate) fn report(&self, progress: &Progress) {
        if !self.is_wanted || self.start.elapsed() < PATIENCE {
            return;
        }
        let Some((what, done, of)) = step(progress) else { return };
        let mut drawn = self.drawn.borrow_mut();
        let bar = drawn.get_or_insert_with(|| {
            ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr())
        });
        bar.set_style(style(of.is_some()));
        bar.set_message(what);
        match of {
            Some(of) => bar.set_length(as_u64(of)),
            None => bar.unset_length(),
        }
        bar.set_position(as_u64(done));
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.clear();
    }
}

/// Says what is being done, how much of it is done and of how much.
pub(crate) fn step(progress: &Progress) -> Option<(&'static str, usize, Option<usize>)> {
    match progress {
        Progress::Scanning { read, of } => Some(("reading records", *read, *of)),
        // Before anything is known to be left there is nothing to show.
        Progress::Examining { of: 0, .. } => None,
        Progress::Examining { left, of } => {
            Some(("working out numbers", of.saturating_sub(*left), Some(*of)))
        }
        Progress::Waiting { .. } => Some(("waiting for another command", 0, None)),
        _ => None,
    }
}

fn style(has_length: bool) -> ProgressStyle {
    let template = if has_length {
        "{msg:20} {wide_bar} {human_pos} of {human_len}"
    } else {
        "{msg:20} {human_pos}"
    };
    ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar())
}

fn as_u64(count: usize) -> u64 {
    u64::try_from(count).unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_is_counted_up_even_where_it_is_told_what_is_left() {
        assert_eq!(
            step(&Progress::Examining { left: 10, of: 40 }),
            Some(("working out numbers", 30, Some(40)))
        );
        assert_eq!(
            step(&Progress::Scanning { read: 5, of: None }),
            Some(("reading records", 5, None))
        );
        assert_eq!(step(&Progress::Stopping), None);
    }

    #[test]
    fn the_templates_are_valid() {
        for template in ["{msg:20} {wide_bar} {human_pos} of {human_len}", "{msg:20} {human_pos}"] {
            assert!(ProgressStyle::with_template(template).is_ok());
        }
    }

    #[test]
    fn nothing_is_drawn_for_short_work() {
        let bar = Bar::new(true);
        bar.report(&Progress::Scanning { read: 5, of: None });
        assert!(bar.drawn.borrow().is_none());
    }
}
