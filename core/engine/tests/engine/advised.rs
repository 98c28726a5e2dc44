use super::*;

/// Answers a walk with what it counts: how often it was asked, the builds of a card through a memo, and one number.
struct Walking(Arc<AtomicUsize>);

impl Plugin for Walking {
    fn manifest(&self) -> Manifest {
        Manifest { name: "walking", version: "1", numbers: Vec::new(), flags: Vec::new() }
    }

    fn advise(&self, question: &Question, view: &View) -> Option<Result<Advice, String>> {
        let Question::Walk { record } = question else { return None };
        self.0.fetch_add(1, Ordering::SeqCst);
        let n_builds = view.memo("builds", record, |view| view.builds_of(record).len());
        let siblings = view
            .numbers("builds/runa")
            .and_then(|numbers| numbers.get("siblings").and_then(Number::value));
        Some(Err(format!("{n_builds} builds, {siblings:?}")))
    }
}

/// What is asked again is not worked out again, and never older than what it was made of.
#[test]
fn advice_is_worked_out_once_until_what_it_was_made_of_changes() {
    let (n_asked, n_examined) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
    let shelf: Arc<Shelf> = Arc::default();
    let plugins: Vec<Box<dyn Plugin>> =
        vec![Box::new(Counting(n_examined.clone())), Box::new(Walking(n_asked.clone()))];
    let engine = Engine::open(Setup { state_dir: None, plugins, files: shelf.clone() }).unwrap();
    let mut bench = Bench { shelf, engine, n_examined, generation: 0 };
    // Whoever is shown a record asks for its walk.
    let asked = |bench: &Bench| {
        n_asked.store(0, Ordering::SeqCst);
        assert!(matches!(bench.ask(Request::Show { record: "heron".into() }), Answer::Show(_)));
        n_asked.load(Ordering::SeqCst)
    };
    bench.write("blanks/heron.md", CARD);
    bench.write("builds/otto.md", &build("heron", "x"));
    bench.write("builds/runa.md", &build("tern", "x"));
    bench.write("blanks/tern.md", CARD);
    bench.settle();
    assert_eq!((asked(&bench), asked(&bench)), (1, 0));
    bench.write("builds/otto.md", &build("heron", "other words"));
    bench.write("builds/per.md", &build("crake", "x"));
    bench.settle();
    assert_eq!(asked(&bench), 0, "nothing that it was made of changed");
    bench.write("builds/ilse.md", &build("heron", "x"));
    let before = bench.engine.snapshot();
    bench.settle();
    assert_eq!((asked(&bench), asked(&bench)), (1, 0), "the memo that it read is another one");
    bench.remove("builds/ilse.md");
    bench.settle();
    assert_eq!((asked(&bench), asked(&bench)), (1, 0));
    // Who still holds the state before answers with what was known then.
    before.answer(&Request::Show { record: "heron".into() });
    bench.settle();
    assert_eq!(asked(&bench), 0);
    // The number that it read changes in an examination, when the card of that build goes.
    bench.remove("blanks/tern.md");
    bench.settle();
    assert_eq!((asked(&bench), asked(&bench)), (1, 0));
}
