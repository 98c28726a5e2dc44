//! What an edit of a blank card reaches: who reads its shape, who its weight, who asks only whether that is about right.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use taperbook_engine::{Change, Engine, Setup};
use taperbook_plugin::{Manifest, Number, NumberSpec, Plugin, Resolution, View};
use taperbook_record::{Action, Record};
use taperbook_units::{Dimension, Mass};

use crate::Shelf;

/// Gives each build the length of its card, and the card's weight unless the piece was weighed and the card states about as much.
struct Weighing(Arc<AtomicUsize>);

fn weighed(record: &Record) -> Option<Mass> {
    record.build()?.bench.iter().find_map(|item| match &item.action {
        Action::Read(reading) => Some(reading.weight.as_ref()?.value),
        _ => None,
    })
}

impl Plugin for Weighing {
    fn manifest(&self) -> Manifest {
        let spec =
            |key: &str, dimension| NumberSpec { key: key.into(), dimension, meaning: "m".into() };
        let numbers = vec![spec("stated", Dimension::Length), spec("told", Dimension::Mass)];
        Manifest { name: "weighing", version: "1", numbers, flags: Vec::new() }
    }

    fn numbers(&self, record: &Record, view: &View) -> Vec<(String, Number)> {
        let Some(build) = record.build() else { return Vec::new() };
        self.0.fetch_add(1, Ordering::SeqCst);
        let name = build.blank.as_ref().map_or("", |name| &name.value);
        let Resolution::Found(card) = view.resolve_shape(name) else { return Vec::new() };
        let length = card.shape.length.map_or(0.0, |length| length.value.m());
        let told = view.memo("told", &record.id, |view| {
            let gram = Mass::from_g(1.0);
            let is_about = weighed(record)
                .is_some_and(|read| view.weighs_between(&card.id, read - gram, read + gram));
            if is_about { None } else { view.weight(&card.id).map(|weight| weight.value) }
        });
        let told =
            told.map_or_else(|| Number::missing("a weight"), |told| Number::exact(told.kg()));
        vec![("stated".into(), Number::exact(length)), ("told".into(), told)]
    }
}

struct Bench {
    shelf: Arc<Shelf>,
    engine: Engine,
    n_examined: Arc<AtomicUsize>,
}

impl Bench {
    fn open(shelf: &Arc<Shelf>, state_dir: Option<&std::path::Path>) -> Self {
        let n_examined = Arc::new(AtomicUsize::new(0));
        let setup = Setup {
            state_dir: state_dir.map(Into::into),
            plugins: vec![Box::new(Weighing(n_examined.clone()))],
            files: shelf.clone(),
        };
        Self { shelf: shelf.clone(), engine: Engine::open(setup).unwrap(), n_examined }
    }

    fn write(&mut self, path: &str, text: &str) {
        self.shelf.0.lock().unwrap().insert(path.into(), text.into());
        self.engine.apply(vec![Change::Written { path: path.into(), bytes: text.into() }]);
    }

    /// Examines and commits; says how many builds the plugin saw.
    fn settle(&mut self) -> usize {
        self.n_examined.store(0, Ordering::SeqCst);
        self.engine.examine(usize::MAX);
        self.engine.commit(self.engine.generation() + 1).unwrap();
        self.n_examined.load(Ordering::SeqCst)
    }

    /// Writes a card, says how many builds were examined for it, and that an engine which reads all of it anew has the same numbers.
    #[track_caller]
    fn check(&mut self, card: &str, n_examined: usize) {
        self.write("blanks/heron.md", card);
        assert_eq!(self.settle(), n_examined, "{card}");
        let mut anew = Self::open(&self.shelf, None);
        for (path, text) in self.shelf.0.lock().unwrap().clone() {
            anew.engine.apply(vec![Change::Written { path, bytes: text.into() }]);
        }
        anew.settle();
        for id in ["blanks/heron", "builds/light", "builds/heavy", "builds/unweighed"] {
            let shown = |engine: &Engine| {
                let request = taperbook_engine::Request::Show { record: id.into() };
                engine.snapshot().answer(&request)
            };
            let (known, expected) = (shown(&self.engine), shown(&anew.engine));
            assert_eq!(format!("{known:?}"), format!("{expected:?}"), "{card}");
        }
    }
}

fn card(more: &str) -> String {
    format!("---\nkind: blank\nlength: 7'2\"\n{more}---\n")
}

fn build(bench: &str) -> String {
    format!("---\nkind: build\nblank: heron\nbench:\n  - {bench}\n---\n")
}

#[test]
fn an_edit_of_a_card_reaches_who_read_what_it_changed() {
    let state = tempfile::tempdir().unwrap();
    let shelf: Arc<Shelf> = Arc::default();
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.write("builds/light.md", &build("read: { weight: 45.5 g }"));
    bench.write("builds/heavy.md", &build("read: { weight: 48 g }"));
    bench.write("builds/unweighed.md", &build("cut: { tip: 1 in }"));
    bench.check(&card("weight: 46 g\n"), 3);
    // All builds have the length, none has how many there are.
    bench.check(&card("weight: 46 g\nstock: 3\nmaker: Northfell\n"), 0);
    bench.check(&card("stock: 2\nweight: 46 g\n"), 0);
    // Who was told no weight has only asked whether it is about right, and it still is.
    bench.check(&card("weight: 46.3 g\n"), 2);
    bench.check(&card("weight: 47.2 g\n"), 3);
    bench.check(&card("weight: 47.4 g\n"), 2);
    bench.check(&card(""), 3);
    bench.check(&card("pieces: 2\n"), 0);
    bench.check(&card("weight: 46 g\n"), 3);
    // What was asked outlasts a restart.
    drop(bench);
    let mut bench = Bench::open(&shelf, Some(state.path()));
    bench.check(&card("weight: 46.2 g\n"), 2);
    bench.check(&card("weight: 46.2 g\ncalipers:\n  - { at: 0 in, od: 11 mm }\n"), 3);
    // Of two edits at once each counts, and of a card that goes and comes all of it does.
    bench.write("blanks/heron.md", &card("weight: 60 g\n"));
    bench.check(&card("weight: 46.2 g\n"), 3);
    bench.engine.apply(vec![Change::Removed { path: "blanks/heron.md".into() }]);
    bench.check(&card("weight: 46.2 g\n"), 3);
}
