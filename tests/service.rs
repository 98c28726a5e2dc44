//! The unit by which systemd keeps a daemon running for whoever is logged in, and what its command does.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Command, Stdio};

use crate::workshop::{Workshop, is_missing};

const UNIT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/core/daemon/systemd/taperbook@.service");

/// A home in which the unit and the program are where the README has them put.
fn installed() -> tempfile::TempDir {
    let home = tempfile::tempdir().expect("a temporary folder");
    let (units, programs) =
        (home.path().join(".config/systemd/user"), home.path().join(".cargo/bin"));
    fs::create_dir_all(&units).expect("a directory");
    fs::create_dir_all(&programs).expect("a directory");
    fs::copy(UNIT, units.join("taperbook@.service")).expect("a file");
    symlink(env!("CARGO_BIN_EXE_taperbook"), programs.join("taperbook")).expect("a link");
    home
}

#[test]
fn the_unit_is_one_that_systemd_takes() {
    if is_missing("systemd-analyze") {
        return;
    }
    let home = installed();
    let program = |name: &str| {
        let mut command = Command::new(name);
        command.env("HOME", home.path()).env("XDG_RUNTIME_DIR", home.path()).stdin(Stdio::null());
        command
    };
    let escaped = program("systemd-escape")
        .args(["--template", "taperbook@.service", "--path", "/home/ilse/my shop"])
        .output()
        .expect("it runs");
    let instance = String::from_utf8(escaped.stdout).expect("text").trim().to_owned();
    assert_eq!(instance, r"taperbook@home-ilse-my\x20shop.service");
    let unit = home.path().join(".config/systemd/user").join(instance);
    let verified = program("systemd-analyze")
        .args(["--user", "--man=no", "verify"])
        .arg(unit)
        .output()
        .expect("it comes with systemd-escape");
    let told = String::from_utf8_lossy(&verified.stderr);
    assert!(verified.status.success() && told.trim().is_empty(), "{told}");
}

#[test]
fn its_command_follows_the_folder_until_it_is_ended_by_a_signal() {
    let home = installed();
    let workshop = Workshop::empty();
    let unit = fs::read_to_string(UNIT).expect("the unit");
    let command = unit.lines().find_map(|line| line.strip_prefix("ExecStart=")).expect("a command");
    // As systemd does, the words are told apart first and then filled in.
    let words: Vec<String> = command
        .split(' ')
        .map(|word| word.replace("%h", &home.path().display().to_string()))
        .map(|word| word.replace("%f", &workshop.folder().display().to_string()))
        .collect();
    let mut start = Command::new(Path::new(&words[0]));
    start.args(&words[1..]).env_clear().env("HOME", workshop.home()).current_dir("/");
    let mut daemon = workshop.watch_by(start, Stdio::null());
    workshop.run(&["status", "--wait"]).ended(0).says("live");
    let pid = daemon.child.id().to_string();
    assert!(Command::new("kill").arg(pid).status().is_ok_and(|status| status.success()));
    assert_eq!(daemon.wait(), Some(0));
}

#[test]
fn a_daemon_logs_nothing_unless_it_is_asked_to() {
    let workshop = Workshop::empty();
    for (level, expected) in
        [(None, None), (Some("info"), Some("ready")), (Some("debug"), Some("committed"))]
    {
        let path = workshop.root().join("log");
        let log = fs::File::create(&path).expect("a file");
        let mut command = workshop.command(&["watch"]);
        command.envs(level.map(|level| ("TAPERBOOK_LOG", level)));
        let mut daemon = workshop.watch_by(command, log.into());
        workshop.write("wax.md", &format!("ferrule wax {level:?}\n"));
        workshop.run(&["find", "ferrule"]).ended(0).says("1 record found");
        workshop.run(&["stop"]).ended(0);
        assert_eq!(daemon.wait(), Some(0));
        let log = fs::read_to_string(&path).expect("the log");
        match expected {
            None => assert_eq!(log, ""),
            Some(words) => assert!(log.contains(words), "{level:?}: {log}"),
        }
    }
    let mut command = workshop.command(&["status"]);
    command.env("TAPERBOOK_LOG", "loud");
    workshop.finish(command).ended(2).complains("write one of error, warn, info, debug, trace");
}
