//! Two hundred clients, slow ones, and more than there are places.

use std::io::{Read as _, Write as _};
use std::os::unix::net::UnixStream;

use crate::fixture::{DEADLINE, Fixture};
use crate::promise::{self, text};

fn connect(fixture: &Fixture) -> UnixStream {
    let at = std::fs::read(fixture.place().join("socket-at")).unwrap();
    let stream = UnixStream::connect(String::from_utf8(at).unwrap()).unwrap();
    stream.set_read_timeout(Some(DEADLINE)).unwrap();
    stream
}

#[test]
fn two_hundred_at_once_who_each_save_and_ask() {
    let fixture = Fixture::with(Vec::new);
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    std::thread::scope(|scope| {
        for client in 0..200 {
            let fixture = &fixture;
            scope.spawn(move || {
                fixture.write(&format!("{client}.md"), &format!("client{client}\n"));
                assert_eq!(fixture.ids(&format!("client{client}")), [client.to_string()]);
            });
        }
    });
    promise::check(&fixture);
}

#[test]
fn one_who_reads_a_byte_at_a_time_gets_all_and_holds_up_nobody() {
    let fixture = Fixture::with(Vec::new);
    for number in 0..300 {
        fixture.write(&format!("{number}.md"), &text(number));
    }
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let mut slow = connect(&fixture);
    slow.write_all(b"{\"fence\":true,\"request\":{\"ask\":\"names\"}}\n").unwrap();
    let mut reply = Vec::new();
    let mut byte = [0];
    while slow.read(&mut byte).unwrap() == 1 {
        reply.push(byte[0]);
        if reply.len() % 2000 == 1 {
            fixture.write("fresh.md", &format!("byte{}\n", reply.len()));
            assert_eq!(fixture.find(&format!("byte{}", reply.len())).total, 1);
        }
    }
    let reply: serde_json::Value = serde_json::from_slice(&reply).unwrap();
    assert_eq!(reply["answer"]["records"].as_array().unwrap().len(), 300);
    promise::check(&fixture);
}

#[test]
fn all_places_taken_by_those_who_say_nothing_are_no_reason_to_wait() {
    let fixture = Fixture::with(Vec::new);
    fixture.write("log.md", "whipping\n");
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    let silent: Vec<UnixStream> = (0..300).map(|_| connect(&fixture)).collect();
    for round in 0..20 {
        fixture.write("log.md", &format!("round{round}\n"));
        assert_eq!(fixture.find(&format!("round{round}")).total, 1);
    }
    // It was the first of them who had to go; one who comes last may ask.
    let mut end = [0];
    assert_eq!((&silent[0]).read(&mut end).unwrap(), 0);
    let mut last = connect(&fixture);
    last.write_all(b"{\"request\":{\"ask\":\"names\"}}\n").unwrap();
    let mut reply = String::new();
    last.read_to_string(&mut reply).unwrap();
    assert!(reply.starts_with("{\"answer\":"), "{reply}");
    promise::check(&fixture);
}
