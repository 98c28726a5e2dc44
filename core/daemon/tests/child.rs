//! A daemon in a process of its own: this very program, started again. The tests and the soak share it.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use rustix::process::{Pid, Signal, kill_process};
use taperbook_daemon::Shop;

use crate::fixture::{Fixture, counting, eventually};

/// Set for a process that is a daemon: the directory with the shop folder and the state.
const HOME: &str = "TAPERBOOK_TEST_DAEMON_HOME";

/// In a process that a test has started it is that process's daemon; else it does nothing.
#[test]
fn the_daemon_of_another_test() {
    let _ = be_the_daemon();
}

/// Is the daemon of a process that was started to be one, and says whether it was.
pub(crate) fn be_the_daemon() -> bool {
    let Some(home) = std::env::var_os(HOME).map(PathBuf::from) else { return false };
    let log = std::fs::File::create(home.join("log")).unwrap();
    let mut last = log.try_clone().unwrap();
    let report = move |progress| drop(writeln!(&log, "{progress:?}"));
    let (folder, state_dir) = (home.join("shop"), Some(home.join("state")));
    let shop = Shop { folder, state_dir, plugins: counting };
    if let Err(error) = taperbook_daemon::watch(&shop, None, report) {
        drop(writeln!(last, "{error:?}"));
        std::process::exit(1);
    }
    true
}

/// The process; it is killed when it is dropped.
pub(crate) struct Child {
    process: std::process::Child,
    home: PathBuf,
}

impl Child {
    /// Starts a daemon and waits until it can be asked.
    #[track_caller]
    pub(crate) fn start(fixture: &Fixture) -> Self {
        Self::start_by(fixture, Command::new(std::env::current_exe().unwrap()))
    }

    /// Starts one by a command that ends in running this binary in its own place.
    #[track_caller]
    pub(crate) fn start_by(fixture: &Fixture, command: Command) -> Self {
        let mut child = Self::spawn_by(fixture, command);
        let pid = Some(child.id());
        eventually("the child watches", || {
            assert!(!child.has_ended(), "the daemon has ended: {:?}", child.log());
            let status = taperbook_daemon::status(&fixture.shop, false);
            status.is_ok_and(|status| status.pid == pid).then_some(())
        });
        child
    }

    /// Starts a daemon and waits for nothing.
    pub(crate) fn spawn(fixture: &Fixture) -> Self {
        Self::spawn_by(fixture, Command::new(std::env::current_exe().unwrap()))
    }

    fn spawn_by(fixture: &Fixture, mut command: Command) -> Self {
        let process = command
            .args(["child::the_daemon_of_another_test", "--exact"])
            .env(HOME, fixture.home.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        Self { process, home: fixture.home.path().to_path_buf() }
    }

    /// Waits until it can be asked.
    #[track_caller]
    pub(crate) fn wait_until_asked(&self, fixture: &Fixture) {
        eventually("the child watches", || {
            let status = taperbook_daemon::status(&fixture.shop, false);
            status.is_ok_and(|status| status.pid == Some(self.id())).then_some(())
        });
    }

    pub(crate) fn has_ended(&mut self) -> bool {
        self.process.try_wait().unwrap().is_some()
    }

    pub(crate) fn id(&self) -> u32 {
        self.process.id()
    }

    pub(crate) fn signal(&self, signal: Signal) {
        kill_process(Pid::from_child(&self.process), signal).unwrap();
    }

    /// Waits until it has reported something that holds these words.
    #[track_caller]
    pub(crate) fn wait_for(&self, words: &str) {
        let log = self.home.join("log");
        eventually(words, || {
            std::fs::read_to_string(&log).is_ok_and(|log| log.contains(words)).then_some(())
        });
    }

    pub(crate) fn kill(mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }

    #[track_caller]
    pub(crate) fn ends_well(mut self) {
        let status = self.process.wait().unwrap();
        assert!(status.success(), "{status}: {:?}", self.log());
    }

    fn log(&self) -> Option<String> {
        std::fs::read_to_string(Path::new(&self.home).join("log")).ok()
    }
}

impl Drop for Child {
    fn drop(&mut self) {
        // It may be gone already, which is as good.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
