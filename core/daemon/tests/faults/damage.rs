//! Files of the index that are cut short, overwritten, deleted or made read-only, before a start and under the daemon.

use std::path::{Path, PathBuf};
use std::{fs, io};

use taperbook_engine::{Answer, Request};

use crate::fixture::{Fixture, eventually};
use crate::promise::{self, CARD, text};

fn shop() -> Fixture {
    let fixture = Fixture::new();
    fixture.write("blanks/heron.md", CARD);
    for number in 0..60 {
        // Words that don't compress, so that some files of the index are not held in memory.
        let noise: String = (0..400).map(|at| format!("{:x} ", noise(number * 400 + at))).collect();
        fixture.write(&format!("{}/{number}.md", number % 4), &(text(number) + &noise));
    }
    fixture
}

fn noise(number: u64) -> u64 {
    (number + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 20
}

/// Every file that a shop folder's state consists of, but for those of a running daemon.
fn state_files(fixture: &Fixture) -> Vec<PathBuf> {
    let mut left = vec![fixture.place()];
    let mut files = Vec::new();
    while let Some(directory) = left.pop() {
        for entry in fs::read_dir(directory).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            if path.is_dir() {
                left.push(path);
            } else if !name.contains("socket") && !name.contains("lock") {
                files.push(path);
            }
        }
    }
    files.sort();
    files
}

/// Does something to a file of the state.
type Damage = fn(&Path) -> io::Result<()>;

const DAMAGES: [(&str, Damage); 6] = [
    ("cut short", |path| {
        let length = fs::metadata(path)?.len();
        fs::File::options().write(true).open(path)?.set_len(length / 2)
    }),
    ("emptied", |path| fs::File::options().write(true).open(path)?.set_len(0)),
    ("deleted", |path| fs::remove_file(path)),
    ("with a flipped bit", |path| {
        let mut bytes = fs::read(path)?;
        let middle = bytes.len() / 2;
        if let Some(byte) = bytes.get_mut(middle) {
            *byte ^= 4;
        }
        fs::write(path, bytes)
    }),
    ("overwritten with zeros", |path| fs::write(path, vec![0; fs::read(path)?.len()])),
    ("longer", |path| {
        let mut bytes = fs::read(path)?;
        bytes.extend(b"more");
        fs::write(path, bytes)
    }),
];

/// One file of each kind, by the ending of its name.
fn one_of_each_kind(fixture: &Fixture) -> Vec<PathBuf> {
    let kind = |path: &PathBuf| path.extension().or(path.file_name()).unwrap().to_owned();
    let mut files = state_files(fixture);
    // The largest of a kind has the most in it.
    files.sort_by_key(|path| (kind(path), std::cmp::Reverse(fs::metadata(path).unwrap().len())));
    files.dedup_by_key(|path| kind(path));
    files
}

#[test]
fn each_file_of_the_state_damaged_between_two_questions() {
    let fixture = shop();
    promise::check(&fixture);
    let expected = promise::everything(&fixture.shop);
    for (what, damage) in DAMAGES {
        let n_kinds = one_of_each_kind(&fixture).len();
        assert!(10 < n_kinds, "{:?}", one_of_each_kind(&fixture));
        for at in 0..n_kinds {
            // What was damaged is made again, with other names.
            let files = one_of_each_kind(&fixture);
            let Some(path) = files.get(at) else { break };
            damage(path).unwrap();
            let is_right = promise::everything(&fixture.shop) == expected;
            assert!(is_right, "{} {what}", path.display());
        }
    }
    promise::check(&fixture);
}

#[test]
fn all_files_of_the_index_damaged_under_the_daemon() {
    let fixture = shop();
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    for (round, (what, damage)) in (0..).zip(&DAMAGES[..5]) {
        let paths = state_files(&fixture);
        let n_damaged = paths.iter().filter(|path| match damage(path) {
            Ok(()) => true,
            // The daemon has merged it away in the meantime.
            Err(error) if error.kind() == io::ErrorKind::NotFound => false,
            Err(error) => panic!("{}: {error}", path.display()),
        });
        assert!(5 < n_damaged.count(), "{paths:?}");
        // By turns a question that changes nothing, and one after a change.
        if round % 2 == 0 {
            fixture.write("0/0.md", &text(round));
        }
        eventually("an answer", || {
            match fixture.ask(&Request::Find { query: "whip*".into(), limit: 1 }) {
                Ok(Answer::Find(_)) => Some(()),
                // It may say that there is no answer; what it may not do is give a wrong one.
                Ok(Answer::Refused(_)) | Err(_) => None,
                Ok(other) => panic!("{other:?}"),
            }
        });
        let held = std::panic::catch_unwind(|| promise::check_answers(&fixture));
        assert!(held.is_ok(), "{what}");
    }
    promise::check(&fixture);
}

#[test]
fn an_index_of_another_version_is_made_again() {
    let fixture = shop();
    promise::check(&fixture);
    let swap = |path: PathBuf, from: &str, to: &str| {
        let bytes = fs::read(&path).unwrap();
        let at = bytes.windows(from.len()).position(|window| window == from.as_bytes()).unwrap();
        let mut changed = bytes[..at].to_vec();
        changed.extend(to.as_bytes());
        changed.extend(&bytes[at + from.len()..]);
        fs::write(path, changed).unwrap();
    };
    // The index as another version of it would name itself.
    swap(fixture.engine().join("index/meta.json"), "taperbook-index ", "taperbook-index 9");
    promise::check_answers(&fixture);
    promise::check(&fixture);
    // The manifest of another format.
    swap(fixture.place().join("manifest"), "TBMF\u{3}", "TBMF\u{9}");
    let daemon = fixture.watch();
    daemon.wait_until_ready();
    promise::check(&fixture);
    // Files that an older version has left are nobody's concern.
    fs::write(fixture.engine().join("index/old.idx"), "x").unwrap();
    fs::write(fixture.place().join("engine/catalogue"), "x").unwrap();
    promise::check(&fixture);
}
