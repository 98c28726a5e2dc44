//! What a daemon that began anew has told before is not told twice.

use std::sync::{Arc, Mutex, PoisonError};

use crate::Progress;

type Report = Arc<dyn Fn(Progress) + Send + Sync>;

/// Reports nothing of a second beginning but trouble, until that is over; then the state, where it is another one than
/// was told before.
pub(crate) fn quiet(report: Report, told: String) -> Report {
    let told = Mutex::new(Some((told, None)));
    Arc::new(move |progress| {
        let mut told = told.lock().unwrap_or_else(PoisonError::into_inner);
        let Some((before, now)) = &mut *told else { return report(progress) };
        match progress {
            Progress::Scanning { .. } | Progress::Examining { .. } | Progress::Page { .. } => {}
            Progress::State { .. } => *now = Some(progress),
            Progress::Ready { .. } => {
                let is_new = |progress: &Progress| !matches!(progress, Progress::State { state, .. } if state == before);
                let state = now.take().filter(is_new);
                *told = None;
                drop(told);
                if let Some(state) = state {
                    report(state);
                }
            }
            other => report(other),
        }
    })
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[track_caller]
    fn check(told: &[Progress], expected: &[Progress]) {
        let heard = Arc::new(Mutex::new(Vec::new()));
        let keeps = heard.clone();
        let report = quiet(Arc::new(move |p| keeps.lock().unwrap().push(p)), "live".to_owned());
        told.iter().for_each(|progress| report(progress.clone()));
        assert_eq!(*heard.lock().unwrap(), expected);
    }

    fn state(state: &str) -> Progress {
        Progress::State { state: state.to_owned(), why: None }
    }

    fn ready() -> Progress {
        Progress::Ready { records: 1, problems: 0, flags: 0, took: Duration::ZERO }
    }

    #[test]
    fn a_second_beginning_tells_what_is_new() {
        let scan = Progress::Scanning { read: 1, of: None };
        let trouble = Progress::Trouble("a disk is full".to_owned());
        check(
            &[state("scanning"), scan, trouble.clone(), state("live"), ready(), state("polling")],
            &[trouble, state("polling")],
        );
        check(
            &[state("scanning"), state("polling"), ready(), ready()],
            &[state("polling"), ready()],
        );
    }
}
