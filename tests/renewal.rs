//! A daemon that begins anew after a first look: who asks meanwhile notices nothing, and nothing is left behind.

use std::fs;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::workshop::{Daemon, Workshop};

/// So many are worth it.
const RECORDS: usize = 1500;
const DEADLINE: Duration = Duration::from_secs(120);

fn workshop() -> Workshop {
    let workshop = Workshop::empty();
    for at in 0..RECORDS {
        workshop.write(&format!("note-{at}.md"), &format!("whipping thread, number{at}\n"));
    }
    workshop
}

/// Whether the daemon is a program that another one has left something to.
fn is_renewed(daemon: &Daemon) -> bool {
    let environment = fs::read(format!("/proc/{}/environ", daemon.child.id())).expect("it runs");
    environment.split(|byte| *byte == 0).any(|entry| entry.starts_with(b"TAPERBOOK_LEFT_BY="))
}

#[track_caller]
fn wait_until(what: &str, mut is_so: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < DEADLINE, "never {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// Sends a request to the page and gives the answer when it has this part, or when it ends.
fn get(address: &str, path: &str, part: &str) -> String {
    let host = address.trim_start_matches("http://").trim_end_matches('/');
    let mut stream = TcpStream::connect(host).expect("somebody listens");
    stream.set_read_timeout(Some(DEADLINE)).expect("a deadline");
    write!(stream, "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")
        .expect("sent");
    let (mut bytes, mut answer) = ([0; 4096], String::new());
    loop {
        let n_bytes = stream.read(&mut bytes).expect("an answer");
        answer.push_str(&String::from_utf8_lossy(&bytes[..n_bytes]));
        if n_bytes == 0 || answer.contains(part) {
            return answer;
        }
    }
}

#[test]
fn a_daemon_that_begins_anew_is_missed_by_nobody() {
    let workshop = workshop();
    let (mut daemon, address, pen) = workshop.watch_with_page();
    let pid = daemon.child.id();
    let is_over = AtomicBool::new(false);
    // No pause between them; a folder that is written to all the time never rests.
    let ask = || {
        let mut n_asked = 0;
        while !is_over.load(Ordering::SeqCst) {
            let count = format!("{RECORDS} records found");
            workshop.run(&["find", "whipping"]).ended(0).says(&count);
            workshop.run(&["status"]).ended(0).says(&pid.to_string()).says("live");
            n_asked += 1;
        }
        n_asked
    };
    let read = || {
        while !is_over.load(Ordering::SeqCst) {
            let answer = get(&address, "/?query=whipping", "</html>");
            assert!(answer.contains("200 OK") && answer.contains("</html>"), "{answer}");
        }
    };
    // Who follows changes is let go of, and asks again from where it was.
    let follow = || {
        let ended = get(&address, "/changes", "no such words");
        assert!(ended.contains("text/event-stream"), "{ended}");
        get(&address, "/changes?after=1", "data: ")
    };
    let n_asked = std::thread::scope(|scope| {
        let asks = [scope.spawn(ask), scope.spawn(ask)];
        let (read, follow) = (scope.spawn(read), scope.spawn(follow));
        wait_until("begun anew", || is_renewed(&daemon));
        // The new program may not watch yet.
        workshop.write("meanwhile.md", "a word of meanwhile\n");
        workshop.run(&["find", "meanwhile"]).ended(0).says("1 record found");
        let followed = follow.join().expect("a stream");
        is_over.store(true, Ordering::SeqCst);
        assert!(followed.contains("data: "), "{followed}");
        read.join().expect("a page");
        asks.map(|ask| ask.join().expect("answers"))
    });
    assert!(n_asked.iter().all(|n_asked| 0 < *n_asked), "{n_asked:?}");

    let path = &pen[pen.find("/pen/").expect("an address with the pen")..];
    let given = get(&address, path, "no such words");
    assert!(given.contains("303 See Other"), "the pen is the same: {given}");
    workshop.write("later.md", "a word of later\n");
    let told = daemon.wait_for("later.md");
    assert!(told.contains("changed"), "what changes is told as before: {told}");
    workshop.run(&["stop"]).ended(0);
    let (code, told) = daemon.end();
    assert_eq!(code, Some(0));
    let events = ["\"start\"", "\"page\"", "\"ready\"", "\"scanning\"", "\"examining\""];
    let twice = told.iter().find(|line| events.iter().any(|event| line.contains(event)));
    assert_eq!(twice, None, "it is told once");
    workshop.run(&["status"]).says("no daemon");
}

#[test]
fn a_daemon_that_began_anew_ends_as_any_other() {
    let workshop = workshop();
    let mut daemon = workshop.watch();
    wait_until("begun anew", || is_renewed(&daemon));
    let signal = |daemon: &Daemon, name: &str| {
        let sent = Command::new("kill").args([name, &daemon.child.id().to_string()]).status();
        assert!(sent.is_ok_and(|status| status.success()));
    };
    workshop.run(&["find", "whipping"]).ended(0).says(&format!("{RECORDS} records found"));
    workshop.write("later.md", "a word of later\n");
    workshop.run(&["find", "later"]).ended(0).says("1 record found");
    // One that is killed leaves no lock behind, and no standard input that others share.
    signal(&daemon, "-9");
    let (code, told) = daemon.end();
    assert_eq!(code, None);
    assert!(!told.iter().any(|line| line.contains("now")), "no count has changed: {told:?}");
    workshop.run(&["find", "whipping"]).ended(0).says(&format!("{RECORDS} records found"));
    let mut daemon = workshop.watch();
    workshop.run(&["status", "--wait"]).ended(0).says("live");
    signal(&daemon, "-TERM");
    assert_eq!(daemon.wait(), Some(0));
}

/// Before it begins anew it looks for the directory that it was started from.
#[test]
fn a_daemon_goes_on_where_the_directory_is_gone_that_it_was_started_from() {
    let workshop = workshop();
    let (here, log) = (workshop.root().join("here"), workshop.root().join("log"));
    fs::create_dir(&here).expect("a directory");
    let mut command = workshop.command(&["watch", "../shop"]);
    command.current_dir(&here).env("TAPERBOOK_LOG", "debug");
    let log_file = fs::File::create(&log).expect("a file");
    let mut daemon = workshop.watch_by(command, log_file.into());
    fs::remove_dir(&here).expect("it is empty");
    let is_told = |words: &str| fs::read_to_string(&log).expect("a log").contains(words);
    wait_until("kept", || is_told("goes on as the program that it is"));
    workshop.write("later.md", "a word of later\n");
    workshop.run(&["find", "later"]).ended(0).says("1 record found");
    workshop.run(&["status"]).ended(0).says(&daemon.child.id().to_string());
    workshop.run(&["stop"]).ended(0);
    assert_eq!(daemon.wait(), Some(0));
}
