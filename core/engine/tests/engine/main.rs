//! The engine with plugins of a few lines: what is examined again, what is searchable, what is answered.

/// Advice that is kept.
mod advised;
/// What is left after many changes, closes and kills is what would be made afresh.
mod afresh;
/// What an edit of a card reaches.
mod cards;
/// Where an engine keeps what it has.
mod current;
/// What is wrong is counted, and told page by page.
mod faults;
/// What a restart finds on the disk.
mod kept;
/// Records that come, change and go in any order.
mod once;
/// Memos that are worked out on all cores.
mod together;

use std::collections::BTreeMap;
use std::io;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use taperbook_engine::{Answer, Change, Engine, FaultsAnswer, Files, Request, Setup, TryTarget};
use taperbook_plugin::{
    Advice, Cut, Ends, Finding, FlagSpec, Manifest, Number, NumberSpec, Plugin, Question, State,
    SuggestAdvice, View,
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
        files
            .get(path)
            .map(|text| text.clone().into_bytes())
            .ok_or_else(|| io::ErrorKind::NotFound.into())
    }
}

/// Counts examinations, gives each build the number of its card's builds, and flags a build whose card is missing.
struct Counting(Arc<AtomicUsize>);

impl Plugin for Counting {
    fn manifest(&self) -> Manifest {
        Manifest {
            name: "counting",
            version: "1",
            numbers: vec![NumberSpec {
                key: "siblings".into(),
                dimension: Dimension::Count,
                meaning: "builds of the same card".into(),
            }],
            flags: vec![FlagSpec {
                name: "no-card",
                finds: "a build without a card",
                why: "w",
                example: "e",
            }],
        }
    }

    fn numbers(&self, record: &Record, view: &View) -> Vec<(String, Number)> {
        self.0.fetch_add(1, Ordering::SeqCst);
        let Some(name) = record.build().and_then(|build| build.blank.as_ref()) else {
            return Vec::new();
        };
        let taperbook_plugin::Resolution::Found(card) = view.resolve(&name.value, Kind::Blank)
        else {
            return vec![("siblings".into(), Number::missing("a card"))];
        };
        let n_builds = view.memo("count", &card.id, |view| view.builds_of(&card.id).len());
        vec![("siblings".into(), Number::exact(*n_builds as f64))]
    }

    fn flags(&self, record: &Record, view: &View) -> Vec<Finding> {
        let numbers = view.numbers(&record.id);
        match numbers.as_ref().and_then(|numbers| numbers.get("siblings")) {
            Some(Number::Missing { .. }) => vec![Finding {
                flag: "no-card".into(),
                message: "its card is missing".into(),
                span: record
                    .build()
                    .and_then(|build| build.blank.as_ref())
                    .map(|name| name.span.clone()),
            }],
            _ => Vec::new(),
        }
    }

    fn advise(&self, question: &Question, _: &View) -> Option<Result<Advice, String>> {
        matches!(question, Question::Suggest { .. })
            .then(|| Err("this plugin suggests nothing".to_owned()))
    }
}

/// Fails on every build.
struct Failing;

impl Plugin for Failing {
    fn manifest(&self) -> Manifest {
        Manifest { name: "failing", version: "1", numbers: Vec::new(), flags: Vec::new() }
    }

    fn flags(&self, record: &Record, _: &View) -> Vec<Finding> {
        assert!(record.build().is_none(), "a build is too much for me");
        Vec::new()
    }
}

/// Flags a build with what its blank may be.
struct Guessing;

impl Plugin for Guessing {
    fn manifest(&self) -> Manifest {
        let flags = vec![FlagSpec { name: "guess", finds: "f", why: "w", example: "e" }];
        Manifest { name: "guessing", version: "1", numbers: Vec::new(), flags }
    }

    fn flags(&self, record: &Record, view: &View) -> Vec<Finding> {
        let name = record.build().and_then(|build| build.blank.as_ref());
        match name.map(|name| view.resolve(&name.value, Kind::Blank)) {
            Some(taperbook_plugin::Resolution::Missing(near)) => {
                vec![Finding { flag: "guess".into(), message: format!("{near:?}"), span: None }]
            }
            _ => Vec::new(),
        }
    }
}

/// Suggests an inch off the tip of anything.
struct Eager;

impl Plugin for Eager {
    fn manifest(&self) -> Manifest {
        Manifest { name: "eager", version: "1", numbers: Vec::new(), flags: Vec::new() }
    }

    fn advise(&self, question: &Question, _: &View) -> Option<Result<Advice, String>> {
        let Question::Suggest { record, .. } = question else { return None };
        let cut = Cut { tip_mm: 25.4, butt_mm: 0.0 };
        Some(Ok(Advice::Suggest(Box::new(SuggestAdvice {
            record: record.clone(),
            next_cut: Some(cut),
            why_stop: None,
            remaining: cut,
            left: Ends::default(),
            expected: State::new([]),
            chance_inside_limits: None,
            evidence: Vec::new(),
            evidence_query: None,
            measure_next: None,
            words: Vec::new(),
        }))))
    }
}

struct Bench {
    shelf: Arc<Shelf>,
    engine: Engine,
    n_examined: Arc<AtomicUsize>,
    generation: u64,
}

impl Bench {
    fn new() -> Self {
        Self::open(Arc::default(), None)
    }

    fn open(shelf: Arc<Shelf>, state_dir: Option<&std::path::Path>) -> Self {
        let n_examined = Arc::new(AtomicUsize::new(0));
        let engine = Engine::open(Setup {
            state_dir: state_dir.map(Into::into),
            plugins: vec![Box::new(Counting(n_examined.clone()))],
            files: shelf.clone(),
        })
        .unwrap();
        let generation = engine.generation();
        Self { shelf, engine, n_examined, generation }
    }

    fn write(&mut self, path: &str, text: &str) {
        self.shelf.0.lock().unwrap().insert(path.into(), text.into());
        self.engine.apply(vec![Change::Written { path: path.into(), bytes: text.into() }]);
    }

    fn remove(&mut self, path: &str) {
        self.shelf.0.lock().unwrap().remove(path);
        self.engine.apply(vec![Change::Removed { path: path.into() }]);
    }

    /// Examines all that waits and says how many records the plugins saw.
    fn settle(&mut self) -> usize {
        self.n_examined.store(0, Ordering::SeqCst);
        assert_eq!(self.engine.examine(usize::MAX), 0);
        self.generation += 1;
        self.engine.commit(self.generation).unwrap();
        self.n_examined.load(Ordering::SeqCst)
    }

    fn ask(&self, request: Request) -> Answer {
        self.engine.snapshot().answer(&request)
    }

    #[track_caller]
    fn found(&self, query: &str) -> Vec<String> {
        match self.ask(Request::Find { query: query.into(), limit: 100 }) {
            Answer::Find(found) => {
                let mut ids: Vec<String> = found.hits.into_iter().map(|hit| hit.record).collect();
                ids.sort();
                ids
            }
            other => panic!("{query}: {other:?}"),
        }
    }
}

const CARD: &str = "---\nkind: blank\nmaker: Northfell\nlength: 7'2\"\n---\n";

fn build(blank: &str, words: &str) -> String {
    format!("---\nkind: build\nblank: {blank}\nbench:\n  - cut: {{ tip: 1 in }}\n---\n{words}\n")
}

#[test]
fn a_record_is_found_by_its_words_and_its_numbers() {
    let mut bench = Bench::new();
    bench.write("blanks/heron.md", CARD);
    bench.write("builds/ilse.md", &build("heron", "Loads early."));
    bench.write("builds/otto.md", &build("heron", "Too soft."));
    assert_eq!(bench.settle(), 3);
    assert_eq!(bench.found("loads"), ["builds/ilse"]);
    assert_eq!(bench.found("siblings:2"), ["builds/ilse", "builds/otto"]);
    assert_eq!(bench.found("blank.maker:northfell"), ["builds/ilse", "builds/otto"]);
    assert_eq!(bench.found("kind:blank"), ["blanks/heron"]);
}

#[test]
fn only_what_read_the_change_is_examined_again() {
    let mut bench = Bench::new();
    bench.write("blanks/heron.md", CARD);
    bench.write("blanks/crake.md", CARD);
    for n in 0..5 {
        bench.write(&format!("builds/h{n}.md"), &build("heron", "x"));
        bench.write(&format!("builds/c{n}.md"), &build("crake", "x"));
    }
    bench.write("notes/tape.md", "Tape first.");
    assert_eq!(bench.settle(), 13);

    bench.write("builds/h0.md", &build("heron", "Other prose, the same bench."));
    assert_eq!(bench.settle(), 0, "prose changes no number");
    assert_eq!(bench.found("prose"), ["builds/h0"]);

    bench.write("builds/h5.md", &build("heron", "x"));
    assert_eq!(bench.settle(), 6, "the new build and its five siblings, which share a memo");
    assert_eq!(bench.found("siblings:6").len(), 6);

    bench.write("blanks/crake.md", &CARD.replace("7'2\"", "7'4\""));
    assert_eq!(bench.settle(), 6, "the card and its five builds");

    bench.remove("builds/h5.md");
    assert_eq!(bench.settle(), 5);
    assert_eq!(bench.found("siblings:5").len(), 10);
}

#[test]
fn a_card_that_comes_later_is_seen_and_one_that_goes_is_missed() {
    let mut bench = Bench::new();
    bench.write("builds/ilse.md", &build("heron", "x"));
    bench.settle();
    assert_eq!(bench.found("flag:no-card"), ["builds/ilse"]);
    bench.write("blanks/heron.md", CARD);
    bench.settle();
    assert_eq!(bench.found("-flag:no-card").len(), 2);
    bench.write("more/heron.md", CARD);
    bench.settle();
    assert_eq!(bench.found("flag:no-card"), ["builds/ilse"], "two cards of one stem are no answer");
    bench.remove("more/heron.md");
    bench.remove("blanks/heron.md");
    bench.settle();
    match bench.ask(Request::Flags { flag: None }) {
        Answer::Flags(flags) => {
            assert_eq!(flags.total, 1);
            assert_eq!((flags.flags[0].line, flags.flags[0].column), (3, 8));
        }
        other => panic!("{other:?}"),
    }
}

/// A name that leads nowhere is told with the names near it, and these come and go as well.
#[test]
fn what_a_misspelt_name_may_mean_follows_the_cards_that_there_are() {
    let plugins: Vec<Box<dyn Plugin>> = vec![Box::new(Guessing)];
    let shelf: Arc<Shelf> = Arc::default();
    let engine = Engine::open(Setup { state_dir: None, plugins, files: shelf.clone() }).unwrap();
    let mut bench = Bench { shelf, engine, n_examined: Arc::default(), generation: 0 };
    let told = |bench: &Bench| match bench.ask(Request::Flags { flag: None }) {
        Answer::Flags(answer) => answer.flags[0].message.clone(),
        other => panic!("{other:?}"),
    };
    bench.write("builds/otto.md", &build("hero", "x"));
    bench.settle();
    assert_eq!(told(&bench), "[]");
    bench.write("blanks/heron.md", CARD);
    bench.settle();
    assert_eq!(told(&bench), "[\"blanks/heron\"]");
    bench.write("offcuts/herons.md", &CARD.replace("blank", "offcut"));
    bench.settle();
    assert_eq!(told(&bench), "[\"blanks/heron\", \"offcuts/herons\"]");
    bench.remove("blanks/heron.md");
    bench.remove("offcuts/herons.md");
    bench.settle();
    assert_eq!(told(&bench), "[]");
}

#[test]
fn what_waits_for_its_examination_is_searchable_already() {
    let mut bench = Bench::new();
    bench.write("builds/ilse.md", &build("heron", "Loads early."));
    bench.generation += 1;
    bench.engine.commit(bench.generation).unwrap();
    assert_eq!(bench.found("loads"), ["builds/ilse"]);
    match bench.ask(Request::Find { query: "loads".into(), limit: 1 }) {
        Answer::Find(found) => assert_eq!(found.pending, 1),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_file_that_is_gone_at_its_turn_waits_for_nothing() {
    let mut bench = Bench::new();
    bench.write("blanks/heron.md", CARD);
    bench.write("builds/ilse.md", &build("heron", "x"));
    bench.settle();
    bench.shelf.0.lock().unwrap().remove("builds/ilse.md");
    bench.write("blanks/heron.md", &CARD.replace("7'2\"", "7'4\""));
    bench.settle();
    match bench.ask(Request::Status {}) {
        Answer::Status(status) => assert_eq!((status.records, status.pending), (2, 0)),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_plugin_that_panics_is_a_finding() {
    let shelf: Arc<Shelf> = Arc::default();
    let mut engine =
        Engine::open(Setup { state_dir: None, plugins: vec![Box::new(Failing)], files: shelf })
            .unwrap();
    engine
        .apply(vec![Change::Written { path: "builds/a.md".into(), bytes: build("x", "y").into() }]);
    engine.examine(usize::MAX);
    match engine.commit(1).unwrap().answer(&Request::Flags { flag: None }) {
        Answer::Flags(flags) => {
            assert_eq!(flags.flags[0].flag, "plugin-failed");
            assert_eq!(
                flags.flags[0].message,
                "the plugin `failing` failed: a build is too much for me"
            );
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_cannot_be_answered_says_what_to_write() {
    let mut bench = Bench::new();
    bench.write("builds/ilse-heron.md", &build("heron", "x"));
    bench.write("a/twin.md", "x");
    bench.write("b/twin.md", "x");
    bench.settle();
    let target = TryTarget { tip_mm: Some(25.4), ..TryTarget::default() };
    for (request, expected) in [
        (
            Request::Show { record: "ilse-herno".into() },
            "no record is called `ilse-herno`: did you mean `builds/ilse-heron`?",
        ),
        (
            Request::Show { record: "twin".into() },
            "`twin` names several records: write one of `a/twin`, `b/twin`",
        ),
        (
            Request::Suggest { record: "ilse-heron".into(), held_at_mm: None },
            "this plugin suggests nothing",
        ),
        (
            Request::Try { record: "ilse-heron".into(), target, held_at_mm: None },
            "no plugin answers this question",
        ),
        (
            Request::Explain { what: "no-crad".into(), number: None, held_at_mm: None },
            "no flag or record is called `no-crad`: did you mean `no-card`?",
        ),
        (
            Request::Check { paths: vec!["nowhere".into()] },
            "no record is at `nowhere` in the shop folder: name a file or a directory in it",
        ),
    ] {
        match bench.ask(request) {
            Answer::Refused(refusal) => assert_eq!(refusal.message, expected),
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn text_that_nobody_saved_is_checked_as_if_it_were() {
    let mut bench = Bench::new();
    bench.write("blanks/heron.md", CARD);
    bench.write("builds/ilse.md", &build("heron", "x"));
    bench.settle();
    let check = |text: String| match bench
        .ask(Request::CheckText { path: "builds/ilse.md".into(), text })
    {
        Answer::Check(answer) => answer,
        other => panic!("{other:?}"),
    };
    assert!(check(build("heron", "y")).flags.is_empty());
    let answer = check(build("herno", "y").replace("1 in", "1,5 in"));
    assert_eq!((answer.flags[0].flag.as_str(), answer.flags[0].line), ("no-card", 3));
    assert_eq!((answer.problems[0].path.as_str(), answer.problems[0].line), ("builds/ilse.md", 5));
    assert_eq!(bench.found("flag:no-card").len(), 0, "nothing of it is kept");
}

#[test]
fn no_cut_is_suggested_while_a_limit_can_t_be_read() {
    let suggested = |text: &str| {
        let shelf: Arc<Shelf> = Arc::default();
        shelf.0.lock().unwrap().insert("builds/joe.md".into(), text.into());
        let mut engine =
            Engine::open(Setup { state_dir: None, plugins: vec![Box::new(Eager)], files: shelf })
                .unwrap();
        engine.apply(vec![Change::Written { path: "builds/joe.md".into(), bytes: text.into() }]);
        engine.examine(usize::MAX);
        match engine
            .commit(1)
            .unwrap()
            .answer(&Request::Suggest { record: "joe".into(), held_at_mm: None })
        {
            Answer::Suggest(advice) => (advice.next_cut.is_some(), advice.measure_next),
            other => panic!("{other:?}"),
        }
    };
    let sound = "---\nkind: build\nblank: heron\npurpose: pike\nlimits: { power: 400 g .. 600 g }\nbench:\n  - cut: { tip: 1 in }\n---\n";
    assert_eq!(suggested(sound), (true, None));
    assert_eq!(
        suggested(&sound.replace("purpose", "purpuse")),
        (true, None),
        "no cut depends on that"
    );
    let (is_cut, first) = suggested(&sound.replace("400 g ..", "400 .."));
    assert!(!is_cut);
    let first = first.unwrap();
    assert!(first.starts_with("mend the record first"), "{first}");
    assert!(first.contains("builds/joe.md:5:18:"), "{first}");
    assert!(!suggested(&sound.replace("1 in", "1,5 in")).0, "nor while a cut can't be");
}

#[test]
fn a_file_with_an_ending_in_capitals_is_a_record_like_the_others() {
    let mut bench = Bench::new();
    bench.write("blanks/HERON.MD", CARD);
    bench.write("builds/ilse.md", &build("HERON", "x"));
    bench.write("notes/a.md", "small");
    bench.write("notes/a.MD", "capital");
    bench.settle();
    assert_eq!(bench.found("siblings:1"), ["builds/ilse"]);
    bench.write("builds/otto.md", &build("blanks/HERON", "x"));
    bench.write("builds/per.md", &build("blanks/HERON.MD", "x"));
    bench.settle();
    assert_eq!(bench.found("siblings:3"), ["builds/ilse", "builds/otto", "builds/per"]);
    assert_eq!(bench.found("small or capital"), ["notes/a", "notes/a.MD"]);
    for typed in ["HERON", "blanks/HERON", "blanks/HERON.MD"] {
        let Answer::Show(shown) = bench.ask(Request::Show { record: typed.into() }) else {
            panic!("{typed}")
        };
        assert_eq!((&*shown.record, &*shown.path), ("blanks/HERON.MD", "blanks/HERON.MD"));
    }
    bench.remove("notes/a.MD");
    bench.settle();
    assert_eq!(bench.found("small or capital"), ["notes/a"]);
}

#[test]
fn an_unreadable_file_is_told_until_it_can_be_read() {
    let mut bench = Bench::new();
    bench
        .engine
        .apply(vec![Change::Unreadable { path: "a.md".into(), why: "permission denied".into() }]);
    bench.settle();
    let unreadable = |bench: &Bench| match bench.ask(Request::Status {}) {
        Answer::Status(status) => status.unreadable.len(),
        other => panic!("{other:?}"),
    };
    assert_eq!(unreadable(&bench), 1);
    bench.write("a.md", "now it can");
    bench.settle();
    assert_eq!(unreadable(&bench), 0);
}

#[test]
fn requests_and_answers_survive_the_wire() {
    let mut bench = Bench::new();
    bench.write("builds/ilse.md", &build("heron", "Loads early."));
    bench.settle();
    for request in [
        Request::Find { query: "loads".into(), limit: 3 },
        Request::Show { record: "ilse".into() },
        Request::Flags { flag: None },
        Request::Check { paths: Vec::new() },
        Request::Names {},
        Request::Status {},
        Request::Explain { what: "no-card".into(), number: None, held_at_mm: None },
        Request::Try {
            record: "ilse".into(),
            target: TryTarget { to_length_mm: Some(2000.5), ..TryTarget::default() },
            held_at_mm: None,
        },
    ] {
        let wire = serde_json::to_string(&request).unwrap();
        assert_eq!(serde_json::from_str::<Request>(&wire).unwrap(), request, "{wire}");
        let answer = bench.ask(request);
        let wire = serde_json::to_string(&answer).unwrap();
        assert_eq!(serde_json::from_str::<Answer>(&wire).unwrap(), answer, "{wire}");
    }
}
