//! A copy of the demo shop folder with a home of its own, and the program run on it as a whole process.
//!
//! It holds no test.

use std::fs;
use std::io::{BufRead, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use serde_json::Value;

/// How long a test waits for a process before it says that it hangs.
const DEADLINE: Duration = Duration::from_secs(120);

/// A shop folder and a home, both temporary.
pub(crate) struct Workshop {
    place: tempfile::TempDir,
}

impl Workshop {
    /// Copies the demo.
    pub(crate) fn demo() -> Self {
        let workshop = Self::empty();
        copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("vault-example"), &workshop.folder());
        workshop
    }

    /// Makes a shop folder with an empty `shop.yaml`.
    pub(crate) fn empty() -> Self {
        let place = tempfile::tempdir().expect("a temporary folder");
        let workshop = Self { place };
        fs::create_dir_all(workshop.folder()).expect("a directory");
        fs::create_dir_all(workshop.home()).expect("a directory");
        fs::write(workshop.folder().join("shop.yaml"), "name: a shop of one\n").expect("a file");
        workshop
    }

    /// The shop folder.
    pub(crate) fn folder(&self) -> PathBuf {
        self.root().join("shop")
    }

    /// The directory that the shop folder is in, without links.
    pub(crate) fn root(&self) -> PathBuf {
        fs::canonicalize(self.place.path()).expect("a path")
    }

    pub(crate) fn home(&self) -> PathBuf {
        self.root().join("home")
    }

    pub(crate) fn read(&self, path: &str) -> String {
        fs::read_to_string(self.folder().join(path))
            .unwrap_or_else(|error| panic!("{path}: {error}"))
    }

    pub(crate) fn write(&self, path: &str, text: &str) {
        fs::write(self.folder().join(path), text).unwrap_or_else(|error| panic!("{path}: {error}"));
    }

    /// The program, to be run in the shop folder with nothing of the tester's environment.
    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_taperbook"));
        command
            .args(arguments)
            .current_dir(self.folder())
            .env_clear()
            .env("HOME", self.home())
            .env("TZ", "UTC");
        command.stdin(Stdio::null());
        command
    }

    /// Runs the program to its end.
    #[track_caller]
    pub(crate) fn run(&self, arguments: &[&str]) -> Ran {
        self.finish(self.command(arguments))
    }

    /// Runs a command to its end.
    #[track_caller]
    pub(crate) fn finish(&self, mut command: Command) -> Ran {
        let output = command.output().expect("the program runs");
        let text = |bytes: &[u8]| {
            String::from_utf8_lossy(bytes).replace(&*self.root().to_string_lossy(), "[ROOT]")
        };
        Ran {
            told: format!("{command:?} in {}", self.folder().display()),
            listing: listing(&self.folder()),
            code: output.status.code(),
            stdout: text(&output.stdout),
            stderr: text(&output.stderr),
        }
    }

    /// Starts a daemon and waits until it is ready.
    #[track_caller]
    pub(crate) fn watch(&self) -> Daemon {
        self.watch_by(self.command(&["watch"]), Stdio::null())
    }

    /// Starts a daemon by a command, with a place for what it logs, and waits until it is ready.
    #[track_caller]
    pub(crate) fn watch_by(&self, mut command: Command, log: Stdio) -> Daemon {
        command.stdout(Stdio::piped()).stderr(log);
        let mut child = command.spawn().expect("the program runs");
        let lines = lines_of(child.stdout.take().expect("it is piped"));
        let mut daemon = Daemon { child, lines };
        daemon.wait_for("ready:");
        daemon
    }

    /// Starts a daemon that serves a page, and waits until it is ready; gives the page's address, and the one with the pen.
    #[track_caller]
    pub(crate) fn watch_with_page(&self) -> (Daemon, String, String) {
        let mut child = self
            .command(&["watch", "--json", "--page", "0"])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program runs");
        let lines = lines_of(child.stdout.take().expect("it is piped"));
        let daemon = Daemon { child, lines };
        let (mut page, mut is_ready) = (None, false);
        while page.is_none() || !is_ready {
            let line = daemon.lines.recv_timeout(DEADLINE).expect("a daemon that gets ready");
            let event: Value = serde_json::from_str(&line).expect("JSON");
            is_ready |= event["event"] == "ready";
            if event["event"] == "page" {
                let address = |key: &str| event[key].as_str().unwrap_or_default().to_owned();
                page = Some((address("address"), address("pen")));
            }
        }
        let (address, pen) = page.unwrap_or_default();
        (daemon, address, pen)
    }
}

/// How a run of the program went.
#[derive(Debug)]
pub(crate) struct Ran {
    told: String,
    listing: String,
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl Ran {
    /// Says all that is known of the run, for a test that failed.
    pub(crate) fn told(&self) -> String {
        let Ran { told, listing, code, stdout, stderr } = self;
        format!(
            "{told}\nfolder:\n{listing}\nexit code: {code:?}\nstdout:\n{stdout}\nstderr:\n{stderr}"
        )
    }

    /// Holds that it ended with this exit code.
    #[track_caller]
    pub(crate) fn ended(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{}", self.told());
        self
    }

    /// Holds that standard output holds this.
    #[track_caller]
    pub(crate) fn says(self, part: &str) -> Self {
        assert!(self.stdout.contains(part), "no `{part}` in the output of {}", self.told());
        self
    }

    /// Holds that standard error holds this.
    #[track_caller]
    pub(crate) fn complains(self, part: &str) -> Self {
        assert!(self.stderr.contains(part), "no `{part}` in the errors of {}", self.told());
        self
    }

    /// Reads standard output as JSON.
    #[track_caller]
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.stdout)
            .unwrap_or_else(|error| panic!("{error} in {}", self.told()))
    }

    /// Gives exit code, standard output and standard error as one text.
    pub(crate) fn whole(&self) -> String {
        let code = self.code.map_or_else(|| "none".to_owned(), |code| code.to_string());
        format!("exit code {code}\n--- stdout\n{}--- stderr\n{}", self.stdout, self.stderr)
    }
}

/// A daemon in a process of its own; it is ended when it is dropped.
pub(crate) struct Daemon {
    pub(crate) child: Child,
    lines: Receiver<String>,
}

impl Daemon {
    /// Waits for a line that holds this, and gives it.
    #[track_caller]
    pub(crate) fn wait_for(&mut self, part: &str) -> String {
        let mut seen = Vec::new();
        loop {
            match self.lines.recv_timeout(DEADLINE) {
                Ok(line) if line.contains(part) => return line,
                Ok(line) => seen.push(line),
                Err(error) => panic!("no `{part}` from the daemon ({error}), but {seen:#?}"),
            }
        }
    }

    /// Waits for its end and gives its exit code.
    #[track_caller]
    pub(crate) fn wait(&mut self) -> Option<i32> {
        self.end().0
    }

    /// Waits for its end and gives its exit code, with the lines that nobody has waited for.
    #[track_caller]
    pub(crate) fn end(&mut self) -> (Option<i32>, Vec<String>) {
        let mut told = Vec::new();
        // Its output ends when the process does, so that waiting for the one with a deadline is waiting for the other.
        loop {
            match self.lines.recv_timeout(DEADLINE) {
                Ok(line) => told.push(line),
                Err(std::sync::mpsc::RecvTimeoutError::Disconnected) => break,
                Err(error) => panic!("the daemon does not end: {error}"),
            }
        }
        (self.child.wait().expect("it is a child").code(), told)
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        // It may be gone already, which is as good.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn lines_of(stdout: ChildStdout) -> Receiver<String> {
    let (sender, receiver) = channel();
    std::thread::spawn(move || {
        for line in BufReader::new(stdout).lines().map_while(Result::ok) {
            if sender.send(line).is_err() {
                break;
            }
        }
    });
    receiver
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a directory");
    for entry in fs::read_dir(from).expect("the demo") {
        let entry = entry.expect("an entry");
        let (path, target) = (entry.path(), to.join(entry.file_name()));
        if path.is_dir() {
            copy(&path, &target)
        } else {
            fs::copy(&path, &target).map(|_| ()).expect("a copy")
        }
    }
}

fn listing(folder: &Path) -> String {
    let mut names = Vec::new();
    let mut left = vec![folder.to_owned()];
    while let Some(directory) = left.pop() {
        for entry in fs::read_dir(directory).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                left.push(path);
            } else {
                names.push(path.strip_prefix(folder).unwrap_or(&path).display().to_string());
            }
        }
    }
    names.sort();
    names.join(" ")
}

/// Says whether a program is not installed, and that a test is skipped for it; that is a failure where nothing may be
/// skipped.
pub(crate) fn is_missing(program: &str) -> bool {
    let found = Command::new("sh")
        .args(["-c", &format!("command -v {program}")])
        .stdout(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    let skipped = format!("skipped: `{program}` is not installed");
    if !found {
        assert!(std::env::var_os("TAPERBOOK_TEST_STRICT").is_none(), "{skipped}");
        // Standard error is where the test runner shows what a test has to say.
        let _ = writeln!(std::io::stderr(), "{skipped}");
    }
    !found
}
