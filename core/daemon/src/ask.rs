//! Puts a question: to the daemon where one runs, else to the engine itself, and the answer is the same.

use std::ops::ControlFlow;
use std::time::{Duration, Instant};

use taperbook_engine::{Answer, Engine, Request, StatusAnswer};
use taperbook_folder::{Change, Dirty, Folder};

use crate::client::{Said, exchange};
use crate::keeper::{Keeper, Listener, Unfinished};
use crate::lock::{Lock, Role, Turn};
use crate::place::Place;
use crate::socket::connect;
use crate::wire::{self, Call, LONGEST_CALL, Reply};
use crate::{AskError, Progress, Shop};

/// So long a daemon may hold the lock and not be reached, as when it starts or stops.
const PATIENCE: Duration = Duration::from_secs(10);
/// So long a daemon may take to stop: it finishes a commit, and a commit on a slow disk takes a while.
const STOP_PATIENCE: Duration = Duration::from_secs(60);
const PAUSE: Duration = Duration::from_millis(5);
/// A daemon that holds the lock and can't be reached is woken after so long, and then again and again.
const KNOCK_EVERY: Duration = Duration::from_millis(200);

pub(crate) fn ask(
    shop: &Shop,
    request: &Request,
    report: &dyn Fn(Progress),
) -> Result<Answer, AskError> {
    let call = Call::fenced(request.clone());
    put(shop, &call, request, report)
}

pub(crate) fn status(shop: &Shop, wait: bool) -> Result<StatusAnswer, AskError> {
    let request = Request::Status {};
    let call = if wait { Call::fenced(request.clone()) } else { Call::unfenced(request.clone()) };
    match put(shop, &call, &request, &|_| {})? {
        Answer::Status(status) => Ok(status),
        other => Err(nonsense(&other)),
    }
}

pub(crate) fn stop(shop: &Shop) -> Result<bool, AskError> {
    let place = Place::of(shop)?;
    let line = wire::line(&Call::stop()).map_err(|error| AskError::Talk(error.into()))?;
    let begun = Instant::now();
    let mut knocks = Knocks::new();
    let pid = loop {
        let holder = Lock::holder(&place);
        if let Some(stream) = connect(&place)? {
            match exchange(stream, &line).map_err(AskError::Talk)? {
                Said::Reply(Reply::Stopping { pid }) => break pid,
                Said::Reply(Reply::Error { message }) => return Err(AskError::Daemon { message }),
                Said::Reply(Reply::Answer(answer)) => return Err(nonsense(&answer)),
                Said::Nothing => {
                    return Err(AskError::Silent { pid: holder.map(|holder| holder.pid) });
                }
                Said::Gone => {}
            }
        } else if !Lock::is_held(&place)? || holder.is_some_and(|holder| holder.role == Role::Ask) {
            return Ok(false);
        }
        if PATIENCE < begun.elapsed() {
            return Err(AskError::Silent { pid: holder.map(|holder| holder.pid) });
        }
        knocks.knock_if_due(&place);
        std::thread::sleep(PAUSE);
    };
    let asked = Instant::now();
    let is_there = || match Lock::holder(&place) {
        // A question may take the lock as soon as the daemon lets go.
        Some(holder) if holder.role == Role::Ask || holder.pid != pid => Ok(false),
        _ => Lock::is_held(&place),
    };
    while is_there()? {
        if STOP_PATIENCE < asked.elapsed() {
            return Err(AskError::Silent { pid: Some(pid) });
        }
        std::thread::sleep(PAUSE);
    }
    Ok(true)
}

/// Puts a call to the daemon, or its request to the engine.
fn put(
    shop: &Shop,
    call: &Call,
    request: &Request,
    report: &dyn Fn(Progress),
) -> Result<Answer, AskError> {
    let line = wire::line(call).map_err(|error| AskError::Talk(error.into()))?;
    if LONGEST_CALL < line.len() {
        return Err(AskError::TooLong { length: line.len(), longest: LONGEST_CALL });
    }
    let place = Place::of(shop)?;
    let mut since = Instant::now();
    let mut is_told = false;
    let mut knocks = Knocks::new();
    loop {
        if let Some(stream) = connect(&place)? {
            match exchange(stream, &line).map_err(AskError::Talk)? {
                Said::Reply(Reply::Answer(answer)) => return Ok(*answer),
                Said::Reply(Reply::Error { message }) => return Err(AskError::Daemon { message }),
                Said::Nothing => {
                    return Err(AskError::Silent {
                        pid: Lock::holder(&place).map(|holder| holder.pid),
                    });
                }
                // A daemon that ends while it is asked is no reason to leave a question unanswered.
                Said::Reply(Reply::Stopping { .. }) | Said::Gone => {}
            }
        }
        // A folder that is not there is no folder without records.
        Folder::open(&place.folder)?;
        place.make()?;
        let is_free = !Turn::is_taken(&place);
        if is_free && let Some(lock) = Lock::try_take(&place, Role::Ask)? {
            let answer = answer_alone(shop, &place, &lock, call.fence, request, report);
            let is_in_place = lock.is_in_place(&place);
            drop(lock);
            if is_in_place {
                return answer;
            }
            // The state directory was moved or deleted meanwhile: what was read may belong to somebody else.
            continue;
        }
        let holder = Lock::holder(&place);
        let pid = holder.map(|holder| holder.pid);
        if holder.is_some_and(|holder| holder.role == Role::Ask) {
            // It lets go when it is done, or has died; how long a first look takes depends on the folder.
            since = Instant::now();
            if !is_told {
                report(Progress::Waiting { pid });
                is_told = true;
            }
        } else if PATIENCE < since.elapsed() {
            return Err(AskError::Silent { pid });
        } else {
            knocks.knock_if_due(&place);
        }
        std::thread::sleep(PAUSE);
    }
}

/// Wakes a daemon that holds the lock and can't be reached, as when somebody has deleted its socket: a daemon that
/// sleeps does not see that.
struct Knocks(Instant);

impl Knocks {
    fn new() -> Self {
        Self(Instant::now())
    }

    fn knock_if_due(&mut self, place: &Place) {
        if KNOCK_EVERY < self.0.elapsed() {
            self.0 = Instant::now();
            // Where that can't be done, it is waited for as before.
            let _ = taperbook_folder::knock(place.dir());
        }
    }
}

/// Opens the index, brings it up to date, and answers; the caller holds the lock.
fn answer_alone(
    shop: &Shop,
    place: &Place,
    lock: &Lock,
    is_fenced: bool,
    request: &Request,
    report: &dyn Fn(Progress),
) -> Result<Answer, AskError> {
    let mut keeper = Keeper::open(shop, place)?;
    if is_fenced {
        bring_up_to_date(&mut keeper, &|| lock.is_in_place(place), report)?;
    }
    let mut answer = keeper.engine.snapshot().answer(request);
    if let Answer::Status(status) = &mut answer {
        status.state = "none".to_owned();
        status.why = Some("no daemon watches this folder".to_owned());
        status.folder = place.folder.display().to_string();
    }
    Ok(answer)
}

/// So many records are examined between two reports.
const SLICE: usize = 64;

/// A record that keeps changing while it is read is read again so often; what was read last counts then.
const MOST_DOUBTS: usize = 3;
/// Between two looks at a record that was emptied a moment ago.
const EMPTIED_PAUSE: Duration = Duration::from_millis(20);

/// Takes in what changed in the folder since the index was open last, examines all of it, and keeps it.
fn bring_up_to_date(
    keeper: &mut Keeper,
    is_ours: &dyn Fn() -> bool,
    report: &dyn Fn(Progress),
) -> Result<(), AskError> {
    let of = keeper.is_new().then(|| keeper.count_records());
    let mut look = Look { report, n_found: 0, of };
    let mut dirty = Dirty::Everything;
    let (mut is_changed, mut n_doubts) = (false, 0);
    loop {
        match keeper.reconcile(&dirty, &mut look) {
            Ok(n_changes) => is_changed |= 0 < n_changes,
            Err(Unfinished::Folder(error, _)) => return Err(error.into()),
            Err(Unfinished::Stopped) => {
                return Err(AskError::Talk(std::io::ErrorKind::Interrupted.into()));
            }
        }
        is_changed |= examine(keeper, report);
        dirty = keeper.take_doubts();
        if !dirty.is_empty() && n_doubts < MOST_DOUBTS {
            n_doubts += 1;
        } else if let Some(until) = keeper.emptied_until() {
            let wait = until.saturating_duration_since(Instant::now());
            std::thread::sleep(wait.min(EMPTIED_PAUSE));
            dirty.merge(keeper.emptied());
        } else {
            break;
        }
    }
    if !is_ours() {
        return Ok(());
    }
    if is_changed {
        keeper.commit().map_err(AskError::Engine)?;
    }
    // Without it the next question reads again what this one has read, and is answered all the same.
    let _ = keeper.save();
    Ok(())
}

/// Works out all that waits, and says whether something did.
fn examine(keeper: &mut Keeper, report: &dyn Fn(Progress)) -> bool {
    let of = keeper.engine.pending();
    let mut left = of;
    while 0 < left {
        report(Progress::Examining { left, of: of.max(left) });
        left = keeper.engine.examine(SLICE);
    }
    0 < of
}

/// Reports how many files were read.
struct Look<'a> {
    report: &'a dyn Fn(Progress),
    n_found: usize,
    of: Option<usize>,
}

impl Listener for Look<'_> {
    fn found(&mut self, _change: &Change) {
        self.n_found += 1;
    }

    fn handed(&mut self, _engine: &mut Engine) -> ControlFlow<()> {
        (self.report)(Progress::Scanning { read: self.n_found, of: self.of });
        ControlFlow::Continue(())
    }
}

fn nonsense(_answer: &Answer) -> AskError {
    AskError::Talk(std::io::Error::new(
        std::io::ErrorKind::InvalidData,
        "the reply belongs to another question",
    ))
}
