//! Two daemons that want the same folder at the same moment, and a daemon of another version.

use std::io::{BufRead as _, BufReader, Write as _};
use std::os::unix::net::UnixListener;

use taperbook_daemon::AskError;
use taperbook_engine::Request;

use crate::child::Child;
use crate::fixture::{Fixture, eventually};
use crate::promise::{self, CARD, text};

#[test]
fn of_two_daemons_that_start_at_once_one_follows_the_folder() {
    let fixture = Fixture::new();
    fixture.write("blanks/heron.md", CARD);
    for round in 0..6 {
        let mut rivals = [Child::spawn(&fixture), Child::spawn(&fixture)];
        let loser = eventually("one of them gives way", || {
            rivals.iter_mut().position(|rival| rival.has_ended())
        });
        let [first, second] = rivals;
        let (winner, loser) = if loser == 0 { (second, first) } else { (first, second) };
        drop(loser);
        winner.wait_until_asked(&fixture);
        for number in 0..10 {
            fixture.write(&format!("{number}.md"), &text(number + round));
        }
        promise::check_answers(&fixture);
        // The next two find what a daemon leaves that was stopped, or killed.
        if round % 2 == 0 {
            winner.kill();
        } else {
            assert!(taperbook_daemon::stop(&fixture.shop).unwrap());
            winner.ends_well();
        }
    }
    promise::check(&fixture);
}

#[test]
fn a_daemon_of_another_version_is_named_as_the_reason() {
    let fixture = Fixture::new();
    fixture.write("log.md", "whipping\n");
    promise::check(&fixture);
    let socket = fixture.home.path().join("socket");
    let listener = UnixListener::bind(&socket).unwrap();
    let at = fixture.place().join("socket-at");
    std::fs::write(&at, socket.to_str().unwrap()).unwrap();
    // Answers as another version would: in words of its own, by none of its keys, and not at all.
    let replies = ["{\"answer\":{\"answer\":\"find\",\"count\":3}}\n", "{\"found\":3}\n", "3\n"];
    let other = std::thread::spawn(move || {
        for reply in replies {
            let (mut stream, _) = listener.accept().unwrap();
            BufReader::new(&stream).read_line(&mut String::new()).unwrap();
            stream.write_all(reply.as_bytes()).unwrap();
        }
    });
    for reply in replies {
        let error = fixture.ask(&Request::Find { query: String::new(), limit: 1 }).unwrap_err();
        assert!(matches!(error, AskError::Talk(_)), "{reply}: {error:?}");
        let words = "if it is of another version, end it with `taperbook stop` and try again";
        assert!(error.to_string().contains(words), "{reply}: {error}");
    }
    other.join().unwrap();
    // It has ended, and left its socket.
    assert_eq!(fixture.ids("whipping"), ["log"]);
    promise::check(&fixture);
}
