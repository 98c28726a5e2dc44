//! Clients that misbehave hold up nobody.

use std::io::{Read as _, Write as _};
use std::os::unix::net::UnixStream;

use taperbook_daemon::AskError;
use taperbook_engine::Request;

use crate::fixture::{DEADLINE, Fixture};
use crate::promise;

fn connect(fixture: &Fixture) -> UnixStream {
    let at = std::fs::read(fixture.place().join("socket-at")).unwrap();
    let stream = UnixStream::connect(String::from_utf8(at).unwrap()).unwrap();
    stream.set_read_timeout(Some(DEADLINE)).unwrap();
    stream
}

/// Says something, and gives all that the daemon replies until it ends the connection.
fn say(fixture: &Fixture, line: &[u8]) -> String {
    let mut stream = connect(fixture);
    stream.write_all(line).unwrap();
    let mut reply = String::new();
    stream.read_to_string(&mut reply).unwrap();
    reply
}

#[test]
fn the_lines_are_what_they_are_said_to_be() {
    let fixture = Fixture::new();
    fixture.write("log.md", "# Log\n");
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let names = "{\"answer\":{\"answer\":\"names\",\"records\":[{\"record\":\"log\",\"kind\":\"note\",\"title\":\"Log\"}]}}\n";
    assert_eq!(say(&fixture, b"{\"fence\":true,\"request\":{\"ask\":\"names\"}}\n"), names);
    assert_eq!(say(&fixture, b"{\"request\":{\"ask\":\"names\"}}\n"), names, "without a fence");
    assert_eq!(say(&fixture, b"{}\n"), "{\"error\":{\"message\":\"the call holds no request\"}}\n");
    let reply = say(&fixture, b"{\"request\":{\"ask\":\"dance\"}}\n");
    assert!(
        reply.starts_with(
            "{\"error\":{\"message\":\"the call is not understood: unknown variant `dance`"
        ),
        "{reply}"
    );
    let reply = say(&fixture, b"\xff\xfe\n");
    assert!(reply.starts_with("{\"error\":{\"message\":\"the call is not understood: "), "{reply}");
}

#[test]
fn a_call_without_end_is_refused() {
    let fixture = Fixture::new();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let mut stream = connect(&fixture);
    // Writing fails once the daemon has refused and closed its end.
    let chunk = vec![b'x'; 64 << 10];
    let n_written = (0..1000).take_while(|_| stream.write_all(&chunk).is_ok()).count();
    assert!(n_written < 1000, "the daemon has taken {n_written} times 64 KiB");
    let query = "x".repeat(20 << 20);
    let error = fixture.ask(&Request::Find { query, limit: 1 }).unwrap_err();
    assert!(matches!(error, AskError::TooLong { .. }), "{error:?}");
    assert!(fixture.find("").total == 0, "and others are answered");
}

#[test]
fn clients_that_say_nothing_or_never_read_hold_up_nobody() {
    let fixture = Fixture::with(Vec::new);
    for at in 0..2000 {
        fixture.write(&format!("notes/{at}.md"), &format!("# {}\n", "long title ".repeat(20)));
    }
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let silent: Vec<_> = (0..100).map(|_| connect(&fixture)).collect();
    let deaf: Vec<_> = (0..100)
        .map(|_| {
            let mut stream = connect(&fixture);
            // The reply is much longer than what the system keeps for a reader.
            stream.write_all(b"{\"request\":{\"ask\":\"names\"}}\n").unwrap();
            stream
        })
        .collect();
    fixture.write("log.md", "whipping\n");
    assert_eq!(fixture.ids("whipping"), ["log"]);
    assert_eq!(taperbook_daemon::status(&fixture.shop, true).unwrap().state, "live");
    promise::check_answers(&fixture);
    // Nor do they keep it from stopping.
    assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
    daemon.end().unwrap();
    drop((silent, deaf));
    promise::check(&fixture);
}

#[test]
fn more_clients_than_are_listened_to_at_once_are_all_answered() {
    let fixture = Fixture::new();
    fixture.write("log.md", "whipping\n");
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let mut streams: Vec<_> = (0..400).map(|_| connect(&fixture)).collect();
    // The last ones speak first: those who came before them have to be dropped for their silence.
    for stream in streams.iter_mut().rev().take(100) {
        stream.write_all(b"{\"request\":{\"ask\":\"names\"}}\n").unwrap();
    }
    for stream in streams.iter_mut().rev().take(100) {
        let mut reply = String::new();
        stream.read_to_string(&mut reply).unwrap();
        assert!(reply.starts_with("{\"answer\":"), "{reply}");
    }
}
