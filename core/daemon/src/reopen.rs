//! What the engine's thread does when its index can't be used any more: it opens it again, at once and then now and
//! then, and says so meanwhile. Nobody is answered from before.

use std::time::{Duration, Instant};

use taperbook_folder::Dirty;

use crate::board::{Board, State};
use crate::error::with_source;
use crate::follower::Ended;
use crate::inbox::Inbox;
use crate::keeper::{Keeper, KeeperError};
use crate::{DaemonError, Progress};

/// Between two attempts, as on a disk that stays full.
const RETRY: Duration = Duration::from_secs(2);

/// What came of it.
pub(crate) enum Reopened {
    Keeper(Box<Keeper>),
    /// It ended before that worked.
    Not(Ended),
}

/// Opens the index again once that works, unless it is told to stop before; all of the folder is looked at then.
///
/// The first attempt comes at once if the last time was a while ago: then those who wait get their answer.
pub(crate) fn reopen(
    open: impl Fn() -> Result<Keeper, KeeperError>,
    is_ours: &dyn Fn() -> bool,
    inbox: &mut Inbox,
    board: &Board,
    report: &dyn Fn(Progress),
    mut why: String,
    last: Option<Instant>,
) -> Reopened {
    let mut until = last.map_or_else(Instant::now, |last| last + RETRY);
    loop {
        let message = format!("the index can't be used: {why}");
        board.show_behind(true);
        if board.show_state(State::broken(message.clone())) {
            report(Progress::Trouble(message.clone()));
        }
        while Instant::now() < until {
            if inbox.is_stopped() {
                return Reopened::Not(Ended::Stopped);
            }
            inbox.refuse_all(&message);
            inbox.wait(Some(until.saturating_duration_since(Instant::now())));
        }
        if !is_ours() {
            return Reopened::Not(Ended::Displaced);
        }
        match open() {
            Ok(keeper) => {
                inbox.mark(Dirty::Everything);
                return Reopened::Keeper(Box::new(keeper));
            }
            Err(error) => why = with_source(&DaemonError::from(error)),
        }
        until = Instant::now() + RETRY;
    }
}
