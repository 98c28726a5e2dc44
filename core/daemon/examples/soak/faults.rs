//! One random fault of the machine, the index or the daemon; and its mending, so that what must hold can be checked.

use std::fmt::Write as _;
use std::fs;
use std::os::unix::fs::MetadataExt as _;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use rustix::process::Signal;

use crate::child::Child;
use crate::fixture::{Fixture, eventually};
use crate::writers::Random;

/// The daemon, and what is wrong at the moment.
pub(crate) struct Faults<'a> {
    fixture: &'a Fixture,
    daemon: Option<Child>,
    state: PathBuf,
    /// Whether the state is on a disk of its own that can be filled.
    has_disk: bool,
    clients: Vec<UnixStream>,
    count: u64,
    last: &'static str,
}

impl<'a> Faults<'a> {
    /// Starts the daemon, with its state on a small disk where one can be mounted.
    pub(crate) fn new(fixture: &'a Fixture) -> Self {
        let state = fixture.shop.state_dir.clone().unwrap_or_default();
        let _ = fs::create_dir_all(&state);
        let has_disk = run("mount", &["-t", "tmpfs", "-o", "size=48m", "tmpfs", text(&state)]);
        let (clients, last) = (Vec::new(), "none");
        let mut faults = Self { fixture, daemon: None, state, has_disk, clients, count: 0, last };
        faults.begin_daemon();
        faults
    }

    pub(crate) fn count(&self) -> u64 {
        self.count
    }

    pub(crate) fn last(&self) -> &'static str {
        self.last
    }

    pub(crate) fn begin_daemon(&mut self) {
        if self.daemon.is_none() {
            self.daemon = Some(Child::start(self.fixture));
        }
    }

    /// Ends the daemon as a person would; one that can't be asked, since its state is elsewhere, by a signal.
    pub(crate) fn end_daemon(&mut self) {
        let Some(daemon) = self.daemon.take() else { return };
        if !taperbook_daemon::stop(&self.fixture.shop).is_ok_and(|was_there| was_there) {
            daemon.signal(Signal::TERM);
        }
        daemon.ends_well();
    }

    /// Lets one of them happen.
    pub(crate) fn happen(&mut self, random: &mut Random) {
        self.count += 1;
        match random.below(11) {
            0 | 1 => {
                self.last = "killed";
                self.kill();
                if random.below(2) == 0 {
                    // Those who ask meanwhile do without.
                    std::thread::sleep(Duration::from_millis(random.below(300)));
                }
                self.begin_daemon();
            }
            2 => {
                self.last = "stopped and started";
                self.end_daemon();
                self.begin_daemon();
            }
            3 => {
                self.last = "halted for a moment";
                self.halted(|| std::thread::sleep(Duration::from_millis(300)));
            }
            4 => {
                self.last = "more events than the system keeps";
                let fixture = self.fixture;
                self.halted(|| flood(fixture, 40_000));
            }
            5 => {
                self.last = "a file of the state damaged";
                self.damage(random);
            }
            6 => {
                self.last = "a file of the state damaged, and killed";
                self.damage(random);
                self.kill();
                self.begin_daemon();
            }
            7 => {
                self.last = "the state deleted";
                for path in self.places() {
                    let _ = fs::remove_dir_all(path);
                }
            }
            8 => {
                self.last = "the state moved away and back";
                for path in self.places() {
                    let away = path.with_extension("away");
                    let _ = fs::remove_dir_all(&away);
                    let _ = fs::rename(&path, &away);
                    std::thread::sleep(Duration::from_millis(random.below(200)));
                    let _ = fs::remove_dir_all(&path);
                    let _ = fs::rename(&away, &path);
                    // Where somebody was quicker, the new one stays.
                    let _ = fs::remove_dir_all(&away);
                }
            }
            9 if self.has_disk => {
                self.last = "the disk full";
                self.fill();
                std::thread::sleep(Duration::from_millis(500));
                if random.below(2) == 0 {
                    self.kill();
                }
                let _ = fs::remove_file(self.state.join("ballast"));
                self.begin_daemon();
            }
            _ => {
                self.last = "silent clients";
                for place in self.places() {
                    let at = fs::read_to_string(place.join("socket-at")).unwrap_or_default();
                    self.clients.extend((0..100).filter_map(|_| UnixStream::connect(&at).ok()));
                }
            }
        }
    }

    /// Ends what is still wrong, and waits until there is an answer that is whole: after a fault the daemon may say
    /// for a moment that there is none, or that more is to come.
    pub(crate) fn mend(&mut self) {
        self.clients.clear();
        let _ = fs::remove_file(self.state.join("ballast"));
        self.begin_daemon();
        eventually("a whole answer", || {
            let status = taperbook_daemon::status(&self.fixture.shop, true).ok()?;
            (status.unread + status.pending == 0).then_some(())
        });
    }

    /// How things are, for whoever must find out why something did not hold.
    pub(crate) fn scene(&self) -> String {
        let mut scene = format!("{:?}\n", taperbook_daemon::status(&self.fixture.shop, false));
        let mut left = vec![self.state.clone()];
        while let Some(path) = left.pop() {
            let metadata = fs::symlink_metadata(&path);
            let _ =
                writeln!(scene, "{} {:?}", path.display(), metadata.map(|it| (it.ino(), it.len())));
            left.extend(fs::read_dir(&path).into_iter().flatten().flatten().map(|it| it.path()));
        }
        let log = fs::read_to_string(self.fixture.home.path().join("log")).unwrap_or_default();
        let lines: Vec<&str> = log.lines().collect();
        scene.push_str(&lines[lines.len().saturating_sub(40)..].join("\n"));
        let id = self.daemon.as_ref().map_or(0, Child::id);
        for task in fs::read_dir(format!("/proc/{id}/task")).into_iter().flatten().flatten() {
            let told = |name: &str| fs::read_to_string(task.path().join(name)).unwrap_or_default();
            let (name, at) = (told("comm"), told("wchan"));
            let _ = write!(scene, "\nthread {} waits at {at}", name.trim());
        }
        scene
    }

    fn kill(&mut self) {
        if let Some(daemon) = self.daemon.take() {
            daemon.kill();
        }
    }

    fn halted(&mut self, meanwhile: impl FnOnce()) {
        if let Some(daemon) = &self.daemon {
            daemon.signal(Signal::STOP);
            meanwhile();
            daemon.signal(Signal::CONT);
        }
    }

    /// The directories of the state.
    fn places(&self) -> Vec<PathBuf> {
        let entries = fs::read_dir(&self.state).into_iter().flatten().flatten();
        let is_place = |path: &PathBuf| path.is_dir() && path.extension().is_none();
        entries.map(|entry| entry.path()).filter(is_place).collect()
    }

    fn damage(&self, random: &mut Random) {
        let mut files = Vec::new();
        let mut left = self.places();
        while let Some(directory) = left.pop() {
            for entry in fs::read_dir(directory).into_iter().flatten().flatten() {
                let path = entry.path();
                let is_spared = ["socket", "lock"].iter().any(|name| text(&path).contains(name));
                match path.is_dir() {
                    true => left.push(path),
                    false if !is_spared => files.push(path),
                    false => {}
                }
            }
        }
        files.sort();
        if files.is_empty() {
            return;
        }
        let path = random.pick(&files);
        let length = fs::metadata(path).map_or(0, |metadata| metadata.len());
        let open = || fs::File::options().write(true).open(path);
        let _ = match random.below(3) {
            0 => open().and_then(|file| file.set_len(length / 2)),
            1 => fs::remove_file(path),
            _ => fs::write(path, vec![0; usize::try_from(length).unwrap_or(0)]),
        };
    }

    fn fill(&self) {
        let Ok(stat) = rustix::fs::statvfs(&self.state) else { return };
        let room = usize::try_from(stat.f_bavail * stat.f_frsize).unwrap_or(0);
        let _ = fs::write(self.state.join("ballast"), vec![1; room]);
    }
}

impl Drop for Faults<'_> {
    fn drop(&mut self) {
        self.kill();
        if self.has_disk {
            run("umount", &["-l", text(&self.state)]);
        }
    }
}

/// Makes so many events: each is the closing of a file that was open for writing, and another one than the last.
fn flood(fixture: &Fixture, n_events: u64) {
    for number in 0..n_events {
        let path = fixture.path(&format!("flood-{}.txt", number % 10));
        let _ = fs::File::options().append(true).create(true).open(path);
    }
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap_or_default()
}

fn run(program: &str, arguments: &[&str]) -> bool {
    let mut command = Command::new(program);
    command.args(arguments).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.status().is_ok_and(|status| status.success())
}
