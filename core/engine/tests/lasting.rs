//! What is kept of memos on the disk: it is not worked out again, and never outlives what it was made of.

#[path = "engine/current.rs"]
mod current;

use std::collections::BTreeMap;
use std::io;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use taperbook_engine::{Answer, Change, Engine, Files, Request, Setup};
use taperbook_plugin::{
    Finding, FlagSpec, Lasting, Lasts, Manifest, Number, NumberSpec, Plugin, Resolution, View,
};
use taperbook_record::{Kind, Record};
use taperbook_units::Dimension;

use crate::current::current;

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
struct Learning;

/// How many lessons were worked out, by all engines.
static N_LEARNED: AtomicUsize = AtomicUsize::new(0);
/// How many models were.
static N_MODELS: AtomicUsize = AtomicUsize::new(0);
/// Whoever counts them is alone.
static COUNTING: Mutex<()> = Mutex::new(());

static LESSON: Lasting<Option<f64>> = Lasting {
    what: "lesson",
    compute: |view, id| {
        N_LEARNED.fetch_add(1, Ordering::SeqCst);
        let build = view.record(id)?;
        let card = card_of(view, &build)?;
        let pieces = card.card()?.pieces.as_ref()?.value;
        Some(f64::from(build.build()?.rating.as_ref()?.value) + 10.0 * f64::from(pieces))
    },
    to_bytes: |taught| taught.map(|taught| taught.to_le_bytes().to_vec()).unwrap_or_default(),
    from_bytes: |bytes| match bytes {
        [] => Some(None),
        bytes => bytes.try_into().ok().map(f64::from_le_bytes).map(Some),
    },
};

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
        let flags = vec![FlagSpec { name: "taught", finds: "f", why: "w", example: "e" }];
        Manifest { name: "learning", version: "1", numbers, flags }
    }

    fn lasting(&self) -> Vec<&'static dyn Lasts> {
        vec![&LESSON]
    }

    fn flags(&self, record: &Record, view: &View) -> Vec<Finding> {
        let numbers = view.numbers(&record.id);
        let message = format!("{:?}", numbers.as_ref().and_then(|all| all.get("taught")));
        vec![Finding { flag: "taught".into(), message, span: None }]
    }

    fn numbers(&self, record: &Record, view: &View) -> Vec<(String, Number)> {
        let Some(card) = card_of(view, record) else { return Vec::new() };
        let taught = view.memo("model", &card.id, |view| {
            N_MODELS.fetch_add(1, Ordering::SeqCst);
            let lessons = view.lasting_memos(&LESSON, &view.build_ids_of(&card.id));
            lessons.iter().filter_map(|lesson| **lesson).sum::<f64>()
        });
        vec![("taught".into(), Number::exact(*taught))]
    }
}

struct Bench {
    shelf: Arc<Shelf>,
    engine: Engine,
}

impl Bench {
    fn open(shelf: &Arc<Shelf>, state_dir: Option<&Path>) -> Self {
        let setup = Setup {
            state_dir: state_dir.map(Into::into),
            plugins: vec![Box::new(Learning)],
            files: shelf.clone(),
        };
        Self { shelf: shelf.clone(), engine: Engine::open(setup).unwrap() }
    }

    fn write(&mut self, path: &str, text: &str) {
        self.shelf.0.lock().unwrap().insert(path.into(), text.into());
        self.engine.apply(vec![Change::Written { path: path.into(), bytes: text.into() }]);
    }

    /// Writes a card with three builds.
    fn write_three(&mut self) {
        self.write("blanks/heron.md", &card(1));
        for (name, rating) in [("a", 1), ("b", 2), ("c", 3)] {
            self.write(&format!("builds/{name}.md"), &build(rating));
        }
    }

    /// Examines and commits; says how many lessons were worked out since the last time.
    fn settle(&mut self) -> usize {
        self.engine.examine(usize::MAX);
        self.engine.commit(self.engine.generation() + 1).unwrap();
        N_LEARNED.swap(0, Ordering::SeqCst)
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
    let _alone = COUNTING.lock();
    let state = tempfile::tempdir().unwrap();
    let shelf: Arc<Shelf> = Arc::default();
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.write_three();
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
    let _alone = COUNTING.lock();
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

/// What is not saved yet is answered as it will be once it is, for edits that teach something and edits that don't.
#[test]
fn a_text_that_is_not_saved_is_taught_as_if_it_were() {
    let _alone = COUNTING.lock();
    let shelf: Arc<Shelf> = Arc::default();
    let mut bench = Bench::open(&shelf, None);
    let build = |blank: &str, rating: u32, serial: u32| {
        format!("---\nkind: build\nblank: {blank}\nrating: {rating}\nserial: s{serial}\n---\n")
    };
    for name in ["heron", "crake"] {
        bench.write(&format!("blanks/{name}.md"), &card(1));
    }
    for name in 0..6 {
        bench.write(&format!("builds/b{name}.md"), &build("heron", 1 + name % 5, 0));
    }
    bench.settle();
    // A path, and what is written there: a rating or none other, another blank, a new build, a card.
    let edits = [
        ("builds/b0.md", build("heron", 1, 7)),
        ("builds/b1.md", build("heron", 5, 0)),
        ("builds/b1.md", build("heron", 5, 1)),
        ("builds/b2.md", build("crake", 3, 0)),
        ("builds/b2.md", build("crake", 3, 1)),
        ("builds/b3.md", build("nowhere", 4, 0)),
        ("builds/b9.md", build("crake", 2, 0)),
        ("builds/b9.md", build("blanks/crake", 2, 0)),
        ("builds/b9.md", "a note".to_owned()),
        ("blanks/heron.md", card(3)),
        ("builds/b2.md", build("heron", 3, 1)),
        ("builds/b3.md", build("heron", 4, 1)),
    ];
    for (path, text) in edits {
        let request = Request::CheckText { path: path.into(), text: text.clone() };
        let told = |answer| match answer {
            Answer::Check(check) => check.flags,
            other => panic!("{other:?}"),
        };
        let unsaved = told(bench.engine.snapshot().answer(&request));
        bench.write(path, &text);
        bench.settle();
        let request = Request::Check { paths: vec![path.into()] };
        let saved = told(bench.engine.snapshot().answer(&request));
        assert_eq!(format!("{unsaved:?}"), format!("{saved:?}"), "{path}: {text}");
        bench.taught();
    }
}

#[test]
fn what_teaches_nothing_makes_no_model_anew() {
    let _alone = COUNTING.lock();
    let shelf: Arc<Shelf> = Arc::default();
    let mut bench = Bench::open(&shelf, None);
    bench.write("blanks/heron.md", &card(1));
    (0..4).for_each(|name| bench.write(&format!("builds/b{name}.md"), &build(1 + name)));
    bench.settle();
    bench.taught();
    let (nothing, something) = (build(2).replace("rating", "serial: x\nrating"), build(3));
    let n_made = || (N_LEARNED.swap(0, Ordering::SeqCst), N_MODELS.swap(0, Ordering::SeqCst));
    n_made();
    for (text, expected) in [(&nothing, (1, 0)), (&something, (1, 1))] {
        let request = Request::CheckText { path: "builds/b1.md".into(), text: text.clone() };
        bench.engine.snapshot().answer(&request);
        assert_eq!(n_made(), expected, "not saved: {text}");
    }
    for (text, n_pending, expected) in [(&nothing, 1, (1, 0)), (&something, 4, (1, 1))] {
        bench.write("builds/b1.md", text);
        assert_eq!(bench.engine.pending(), n_pending, "{text}");
        bench.engine.examine(usize::MAX);
        assert_eq!(n_made(), expected, "saved: {text}");
        bench.settle();
        bench.taught();
        n_made();
    }
}

/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014).
fn below(state: &mut u64, count: u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut bits = *state;
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (bits ^ (bits >> 31)) % count
}

/// Whatever is saved in whatever order, with restarts in between, what was taught is what a fresh engine says.
#[test]
fn saves_that_teach_and_saves_that_do_not_leave_what_a_fresh_engine_says() {
    let _alone = COUNTING.lock();
    for seed in 0..4 {
        let mut dice = seed;
        let state = tempfile::tempdir().unwrap();
        let shelf: Arc<Shelf> = Arc::default();
        let mut bench = Bench::open(&shelf, Some(state.path()));
        for _ in 0..60 {
            let path = format!("builds/b{}.md", below(&mut dice, 5));
            match below(&mut dice, 12) {
                0 => {
                    bench.shelf.0.lock().unwrap().remove(&path);
                    bench.engine.apply(vec![Change::Removed { path }]);
                }
                1 => bench.write("blanks/heron.md", &card(1 + u32::from(below(&mut dice, 2) == 1))),
                2 => bench.write("blanks/crake.md", &card(1 + u32::from(below(&mut dice, 2) == 1))),
                3 => {
                    bench.settle();
                    drop(bench);
                    bench = Bench::open(&shelf, Some(state.path()));
                }
                4 | 5 => {
                    bench.settle();
                    bench.taught();
                }
                6 => drop(bench.engine.examine(2)),
                _ => {
                    let blank = if below(&mut dice, 4) == 0 { "crake" } else { "heron" };
                    let (rating, serial) = (1 + below(&mut dice, 2), below(&mut dice, 3));
                    bench.write(
                        &path,
                        &format!("---\nkind: build\nblank: {blank}\nrating: {rating}\nserial: s{serial}\n---\n"),
                    );
                }
            }
        }
        bench.settle();
        bench.taught();
    }
}

#[test]
fn an_engine_that_has_rested_knows_what_is_made_of_what() {
    let _alone = COUNTING.lock();
    let state = tempfile::tempdir().unwrap();
    let mut bench = Bench::open(&Arc::default(), Some(state.path()));
    bench.write_three();
    assert_eq!(bench.settle(), 3);
    let before = bench.taught();
    let generation = bench.engine.generation();
    assert_eq!(bench.engine.rest().unwrap().generation(), generation);
    assert_eq!(bench.taught(), before);

    // What depends on what is read back, and so are the lessons that are still right.
    bench.write("builds/b.md", &build(5));
    assert_eq!(bench.settle(), 1);
    assert_ne!(bench.taught(), before);
    bench.engine.rest().unwrap();
    bench.write("blanks/heron.md", &card(2));
    // What is not committed is not let go of.
    bench.engine.rest().unwrap();
    assert_eq!(bench.engine.pending(), 4);
    assert_eq!(bench.settle(), 3);
    let after = bench.taught();

    // A second rest in a row finds nothing to do, and the next start has all of it.
    bench.engine.rest().unwrap();
    bench.engine.rest().unwrap();
    let shelf = bench.shelf.clone();
    drop(bench);
    let mut bench = Bench::open(&shelf, Some(state.path()));
    assert_eq!((bench.engine.pending(), bench.taught()), (0, after));
    bench.write("builds/c.md", &build(1));
    assert_eq!(bench.settle(), 1);
    bench.taught();
}

#[test]
fn what_comes_into_a_rest_is_taken_in_and_nobody_takes_what_was_written_for_it() {
    let _alone = COUNTING.lock();
    let state = tempfile::tempdir().unwrap();
    let mut bench = Bench::open(&Arc::default(), Some(state.path()));
    bench.write_three();
    bench.settle();
    bench.engine.begin_to_rest().unwrap();
    bench.write("builds/b.md", &build(5));
    assert_eq!(bench.settle(), 1);
    let expected = bench.taught();
    assert!(bench.engine.end_rest().unwrap().is_none(), "something has come");
    assert!(bench.engine.end_rest().unwrap().is_none(), "none was begun");
    assert_eq!(bench.taught(), expected);

    // As after a kill, and as after a good end.
    let path = current(state.path()).join("closed");
    let of_the_rest = std::fs::read(&path).unwrap();
    let shelf = bench.shelf.clone();
    drop(bench);
    let of_the_end = std::fs::read(&path).unwrap();
    assert_ne!(of_the_rest, of_the_end);
    for left in [of_the_rest, of_the_end] {
        std::fs::write(&path, left).unwrap();
        let bench = Bench::open(&shelf, Some(state.path()));
        assert_eq!((bench.engine.pending(), bench.taught()), (0, expected.clone()));
    }
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.write("builds/a.md", &build(3));
    assert_eq!(bench.settle(), 1);
    // One that nothing comes into, and one that the engine's end comes into.
    bench.engine.begin_to_rest().unwrap();
    assert!(bench.engine.end_rest().unwrap().is_some());
    bench.write("blanks/heron.md", &card(2));
    bench.settle();
    bench.engine.begin_to_rest().unwrap();
    assert!(bench.engine.resting().is_some());
    let expected = bench.taught();
    drop(bench);
    let bench = Bench::open(&shelf, Some(state.path()));
    assert_eq!((bench.engine.pending(), bench.taught()), (0, expected));
}

/// What teaches nothing reaches no sibling, also where nothing of the model was asked for since the start, or since a rest.
#[test]
fn what_teaches_nothing_after_a_start_leaves_the_siblings_as_they_are() {
    let _alone = COUNTING.lock();
    let state = tempfile::tempdir().unwrap();
    let mut bench = Bench::open(&Arc::default(), Some(state.path()));
    bench.write_three();
    bench.settle();
    let shelf = bench.shelf.clone();
    let noted = |rating: u32, serial: &str| {
        format!("---\nkind: build\nblank: heron\nrating: {rating}\nserial: {serial}\n---\n")
    };
    drop(bench);
    let mut bench = Bench::open(&shelf, Some(state.path()));
    for round in ["started", "rested"] {
        bench.write("builds/a.md", &noted(1, round));
        assert_eq!(bench.engine.pending(), 1, "{round}");
        bench.settle();
        bench.taught();
        bench.engine.rest().unwrap();
    }
    bench.write("builds/a.md", &noted(5, "teaching"));
    assert_eq!(bench.engine.pending(), 3);
    bench.settle();
    bench.taught();
}
