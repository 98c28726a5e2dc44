//! What must hold after any fault, once a question was answered: the texts that the index has are those of the
//! folder, every answer is that of an index made beside it from nothing, and nothing in the folder was touched.

use std::collections::BTreeMap;
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use taperbook_daemon::Shop;
use taperbook_engine::{Answer, Engine, Files, Request, Setup};

use crate::fixture::{Fixture, eventually, listing};

/// Each form of the query language; the words are those of [`text`].
const QUERIES: [&str; 20] = [
    "",
    "whipping",
    "\"whipping thread\"",
    "whip*",
    "-whipping",
    "whipping -varnish",
    "whipping or varnish",
    "(varnish or spoons) -thread",
    "cut*",
    "title:cracked",
    "kind:build",
    "kind:note -spoons",
    "flag:cracked",
    "flag:conflict-copy",
    "customer:ilse",
    "date>=2025-06",
    "limits.length<7'",
    "bench.cut.tip:1in..",
    "blank.material:carbon",
    "notes>=0",
];

/// Asks everything that shows what an index has.
pub(crate) fn everything(shop: &Shop) -> Vec<Answer> {
    let ask = |request: &Request| match taperbook_daemon::ask(shop, request, |_| {}) {
        Ok(Answer::Find(mut found)) => {
            found.took_ms = 0.0;
            Answer::Find(found)
        }
        // Who answers, and how far it has come, is its own affair.
        Ok(Answer::Status(mut status)) => {
            (status.state, status.why, status.pid) = Default::default();
            (status.generation, status.index_bytes, status.behind_ms) = Default::default();
            Answer::Status(status)
        }
        Ok(answer) => answer,
        Err(error) => panic!("{request:?}: {error:?}"),
    };
    let queries = QUERIES.map(|query| Request::Find { query: query.to_owned(), limit: 2000 });
    let others = [
        Request::Names {},
        Request::Check { paths: Vec::new() },
        Request::Flags { flag: None },
        Request::Status {},
    ];
    queries.iter().chain(&others).map(ask).collect()
}

/// The texts of the folder by path, each as its hash: found by a walk that shares nothing with the program.
fn on_disk(folder: &Path) -> BTreeMap<String, [u8; 32]> {
    let mut texts = BTreeMap::new();
    let mut left = vec![folder.to_path_buf()];
    while let Some(directory) = left.pop() {
        for entry in std::fs::read_dir(&directory).into_iter().flatten().flatten() {
            let (path, name) = (entry.path(), entry.file_name());
            let Some(name) = name.to_str().filter(|name| !name.starts_with('.')) else { continue };
            let relative = path.strip_prefix(folder).unwrap().to_str().unwrap();
            let kind = entry.file_type().unwrap();
            let is_record = name.to_lowercase().ends_with(".md") || relative == "shop.yaml";
            if kind.is_dir() && !path.join("shop.yaml").exists() {
                left.push(path);
            } else if kind.is_file()
                && is_record
                && let Ok(bytes) = std::fs::read(&path)
            {
                texts.insert(relative.to_owned(), *blake3::hash(&bytes).as_bytes());
            }
        }
    }
    texts
}

/// Reads nothing: what an engine knows without reading a file is looked at.
struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _path: &str) -> io::Result<Vec<u8>> {
        Err(io::ErrorKind::NotFound.into())
    }
}

/// The texts that an index has, by path, each as its hash; of a copy, since the daemon may have it open.
fn in_index(fixture: &Fixture, shop: &Shop, place: &Path) -> BTreeMap<String, [u8; 32]> {
    let copy = tempfile::tempdir_in(fixture.home.path()).unwrap();
    copy_tree(&place.join("engine"), copy.path());
    let setup = Setup {
        state_dir: Some(copy.path().to_path_buf()),
        plugins: (shop.plugins)(),
        files: Arc::new(NoFiles),
    };
    Engine::open(setup).unwrap().contents().collect()
}

fn copy_tree(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let (path, target) = entry.map(|entry| (entry.path(), to.join(entry.file_name()))).unwrap();
        if path.is_dir() {
            copy_tree(&path, &target);
        } else {
            std::fs::copy(&path, &target).unwrap();
        }
    }
}

/// The first lines in which two answers differ, with those around them.
fn difference(answer: &Answer, expected: &Answer) -> String {
    let (answer, expected) = (format!("{answer:#?}"), format!("{expected:#?}"));
    let (answer, expected): (Vec<_>, Vec<_>) =
        (answer.lines().collect(), expected.lines().collect());
    let same = answer.iter().zip(&expected).take_while(|(one, other)| one == other).count();
    let around = |lines: &[&str]| {
        let from = same.saturating_sub(8);
        lines[from..lines.len().min(same + 16)].join("\n")
    };
    format!("\n{}\nis not\n{}", around(&answer), around(&expected))
}

static N_CHECKS: AtomicUsize = AtomicUsize::new(0);

/// Checks the answers that are given now, by a daemon or without one, and that giving them touches nothing.
#[track_caller]
pub(crate) fn check_answers(fixture: &Fixture) {
    // While a folder is taken in for the first time an answer may say that more is to come.
    eventually("all is worked out", || {
        let status = taperbook_daemon::status(&fixture.shop, true).unwrap();
        (status.unread + status.pending == 0).then_some(())
    });
    let before = listing(&fixture.shop.folder);
    let answers = everything(&fixture.shop);
    let fresh = fixture.afresh(&format!("fresh-{}", N_CHECKS.fetch_add(1, Ordering::SeqCst)));
    let expected = everything(&fresh);
    for (at, (answer, expected)) in answers.iter().zip(&expected).enumerate() {
        let query = QUERIES.get(at).unwrap_or(&"another question");
        assert!(answer == expected, "`{query}`: {}", difference(answer, expected));
    }
    assert_eq!(listing(&fixture.shop.folder), before, "the shop folder was touched");
    std::fs::remove_dir_all(fresh.state_dir.unwrap()).unwrap();
}

/// Checks all of the promise; it ends the daemon, if there is one, to look at what it leaves.
#[track_caller]
pub(crate) fn check(fixture: &Fixture) {
    check_answers(fixture);
    let _ = taperbook_daemon::stop(&fixture.shop).unwrap();
    let place = fixture.place();
    let held = in_index(fixture, &fixture.shop, &place);
    let there = on_disk(&fixture.shop.folder);
    let wrong = |path: &&String| held.get(*path) != there.get(*path);
    let wrong: Vec<_> = held.keys().chain(there.keys()).filter(wrong).collect();
    assert!(wrong.is_empty(), "the index and the folder differ at {wrong:?}");
    // And what it leaves is of use: nothing is read again or committed.
    let left = taperbook_daemon::status(&fixture.shop, false).unwrap();
    let then = taperbook_daemon::status(&fixture.shop, true).unwrap();
    assert_eq!(left.generation, then.generation, "something was left to do");
}

/// A text of a record, one of many; the same number gives the same text.
pub(crate) fn text(number: u64) -> String {
    let pick = |of: &[&'static str], salt: u64| -> &'static str {
        let bits = (number ^ (salt << 32)).wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        of[usize::try_from((bits >> 40) % of.len() as u64).unwrap()]
    };
    let words: Vec<&str> = (1..7)
        .map(|salt| {
            pick(&["whipping", "thread", "varnish", "spoons", "cut", "cuts", "tip", "søren"], salt)
        })
        .collect();
    let words = words.join(" ");
    let title = pick(&["The cracked tip", "A sound blank", "Notes of the day"], 7);
    match number % 4 {
        0 => format!(
            "---\nkind: build\nblank: {}\ncustomer: {}\ndate: {}\nlimits: {{ length: {} }}\nbench:\n  - cut: {{ tip: \
             {} }}\n---\n# {title}\n\n{words}\n",
            pick(&["heron", "crake", "nowhere"], 8),
            pick(&["Ilse", "Otto"], 9),
            pick(&["2024-03-14", "2025-07-01", "2026-01-31"], 10),
            pick(&["6'8\" .. 7'0\"", ".. 2 m", "90 in .."], 11),
            pick(&["1 in", "1/2 in", "40 mm"], 12),
        ),
        1 => format!("# {title}\n\n{words} {number}\n"),
        2 => format!("{words}\n"),
        _ => format!("---\nkind: note\npurpose: {words}\nsize: {number} mm\n---\n{title}\n"),
    }
}

/// A card that the builds of [`text`] may be of.
pub(crate) const CARD: &str = "---\nkind: blank\nlength: 7'2\"\nmaterial: carbon\n---\n";
