//! What is kept of memos on the disk: it is not worked out again, and never outlives what it was made of.

use std::collections::BTreeMap;
use std::io;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use taperbook_engine::{Answer, Change, Engine, Files, Request, Setup};
use taperbook_plugin::{Manifest, Number, NumberSpec, Plugin, Resolution, View};
use taperbook_record::{Kind, Record};
use taperbook_units::Dimension;

/// The directory of index and ledger.
fn current(state: &Path) -> std::path::PathBuf {
    state.join(std::fs::read_to_string(state.join("current")).unwrap())
}

/// A folder in memory.
#[derive(Default)]
struct Shelf(Mutex<BTreeMap<String, String>>);

impl Files for Shelf {
    fn read(&self, path: &str) -> io::Result<Vec<u8>> {
        let files = self.0.lock().unwrap();
        let text = files.get(path).ok_or(io::ErrorKind::NotFound)?;
        Ok(text.clone().into_bytes())
    }
}

/// Gives each build the sum of what all builds of its card teach: its own rating and the pieces of the card.
struct Learning(Arc<AtomicUsize>);

fn card_of(view: &View, build: &Record) -> Option<Arc<Record>> {
    match view.resolve(&build.build()?.blank.as_ref()?.value, Kind::Blank) {
        Resolution::Found(card) => Some(card),
        _ => None,
    }
}

impl Plugin for Learning {
    fn manifest(&self) -> Manifest {
        let numbers = vec![NumberSpec {
            key: "taught".into(),
            dimension: Dimension::Count,
            meaning: "a sum".into(),
        }];
        Manifest { name: "learning", version: "1", numbers, flags: Vec::new() }
    }

    fn numbers(&self, record: &Record, view: &View) -> Vec<(String, Number)> {
        let Some(card) = card_of(view, record) else { return Vec::new() };
        let taught = view.memo("model", &card.id, |view| {
            let learn = |view: &View, id: &str| {
                self.0.fetch_add(1, Ordering::SeqCst);
                let build = view.record(id)?;
                let card = card_of(view, &build)?;
                let pieces = card.card()?.pieces.as_ref()?.value;
                Some(f64::from(build.build()?.rating.as_ref()?.value) + 10.0 * f64::from(pieces))
            };
            let bytes = |taught: &Option<f64>| match taught {
                Some(taught) => taught.to_le_bytes().to_vec(),
                None => Vec::new(),
            };
            let back = |bytes: &[u8]| match bytes {
                [] => Some(None),
                bytes => bytes.try_into().ok().map(f64::from_le_bytes).map(Some),
            };
            let builds = view.builds_of(&card.id);
            let ids: Vec<&str> = builds.iter().map(|build| build.id.as_str()).collect();
            let lessons = view.lasting_memos("lesson", &ids, learn, bytes, back);
            lessons.iter().filter_map(|lesson| **lesson).sum::<f64>()
        });
        vec![("taught".into(), Number::exact(*taught))]
    }
}

struct Bench {
    shelf: Arc<Shelf>,
    engine: Engine,
    n_learned: Arc<AtomicUsize>,
}

impl Bench {
    fn open(shelf: &Arc<Shelf>, state_dir: Option<&Path>) -> Self {
        let n_learned = Arc::new(AtomicUsize::new(0));
        let setup = Setup {
            state_dir: state_dir.map(Into::into),
            plugins: vec![Box::new(Learning(n_learned.clone()))],
            files: shelf.clone(),
        };
        Self { shelf: shelf.clone(), engine: Engine::open(setup).unwrap(), n_learned }
    }

    fn write(&mut self, path: &str, text: &str) {
        self.shelf.0.lock().unwrap().insert(path.into(), text.into());
        self.engine.apply(vec![Change::Written { path: path.into(), bytes: text.into() }]);
    }

    /// Examines and commits; says how many lessons were worked out.
    fn settle(&mut self) -> usize {
        self.n_learned.store(0, Ordering::SeqCst);
        self.engine.examine(usize::MAX);
        self.engine.commit(self.engine.generation() + 1).unwrap();
        self.n_learned.load(Ordering::SeqCst)
    }

    /// What each build was taught, which must be what an engine says that has just read all of it.
    #[track_caller]
    fn taught(&self) -> Vec<(String, Number)> {
        let of = |engine: &Engine| -> Vec<(String, Number)> {
            let request = Request::Find { query: "kind:build".into(), limit: 100 };
            let Answer::Find(found) = engine.snapshot().answer(&request) else { panic!() };
            let mut hits: Vec<_> = found
                .hits
                .into_iter()
                .filter_map(|hit| Some((hit.record, hit.numbers.into_values().next()?)))
                .collect();
            hits.sort_by(|a, b| a.0.cmp(&b.0));
            hits
        };
        let mut fresh = Bench::open(&self.shelf, None);
        for (path, text) in self.shelf.0.lock().unwrap().clone() {
            fresh.engine.apply(vec![Change::Written { path, bytes: text.into() }]);
        }
        fresh.settle();
        assert_eq!(of(&self.engine), of(&fresh.engine));
        of(&self.engine)
    }
}

fn card(pieces: u32) -> String {
    format!("---\nkind: blank\nlength: 7'\npieces: {pieces}\n---\n")
}

fn build(rating: u32) -> String {
    format!("---\nkind: build\nblank: heron\nrating: {rating}\n---\n")
}

#[test]
fn a_lesson_outlasts_a_restart_and_never_what_it_was_made_of() {
    let state = tempfile::tempdir().unwrap();
    let shelf: Arc<Shelf> = Arc::default();
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.write("blanks/heron.md", &card(1));
    for (name, rating) in [("a", 1), ("b", 2), ("c", 3)] {
        bench.write(&format!("builds/{name}.md"), &build(rating));
    }
    assert_eq!(bench.settle(), 3);
    assert_eq!(bench.taught()[0].1, Number::exact(36.0));
    drop(bench);

    // What a close leaves, and the ledger alone.
    for (round, is_closed) in [(0, true), (1, false)] {
        if !is_closed {
            std::fs::remove_file(current(state.path()).join("closed")).unwrap();
        }
        let mut bench = Bench::open(&shelf, Some(state.path()));
        bench.write("builds/a.md", &build(4 + round));
        assert_eq!(bench.settle(), 1, "the others' lessons are read back");
        bench.taught();
        bench.write("blanks/heron.md", &card(2 + round));
        assert_eq!(bench.settle(), 3, "all were made of the card");
        bench.taught();
        // Twice before a commit, and back to what it was at the last.
        bench.write("builds/b.md", &build(5));
        bench.engine.examine(usize::MAX);
        bench.write("builds/b.md", &build(2));
        bench.settle();
        bench.taught();
    }

    // Changed, and closed before anything was worked out of it.
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.write("builds/c.md", &build(1));
    let generation = bench.engine.generation();
    bench.engine.commit(generation + 1).unwrap();
    drop(bench);
    let mut bench = Bench::open(&shelf, Some(state.path()));
    assert_eq!(bench.settle(), 1);
    bench.taught();

    // Gone and back as another.
    bench.shelf.0.lock().unwrap().remove("builds/c.md");
    bench.engine.apply(vec![Change::Removed { path: "builds/c.md".into() }]);
    assert_eq!(bench.settle(), 0);
    bench.taught();
    drop(bench);
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.write("builds/c.md", &build(5));
    assert_eq!(bench.settle(), 1);
    assert_eq!(bench.taught().len(), 3);
}

#[test]
fn a_ledger_that_is_written_anew_keeps_its_lessons() {
    let state = tempfile::tempdir().unwrap();
    let shelf: Arc<Shelf> = Arc::default();
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.write("blanks/heron.md", &card(1));
    bench.write("builds/a.md", &build(1));
    bench.settle();
    let length = || std::fs::metadata(current(state.path()).join("ledger")).unwrap().len();
    let mut before = length();
    for round in 0.. {
        assert!(round < 40, "it is never written anew");
        for other in 0..300 {
            bench.write(&format!("builds/b{other}.md"), &build(1 + round % 5));
        }
        bench.settle();
        if length() < before {
            break;
        }
        before = length();
    }
    bench.taught();
    drop(bench);
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.write("builds/b7.md", "---\nkind: build\nblank: heron\nrating: 4\nserial: x\n---\n");
    assert_eq!(bench.settle(), 1, "those of the others are read back");
    bench.taught();
}
