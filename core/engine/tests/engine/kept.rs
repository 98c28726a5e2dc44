use super::*;

#[test]
fn a_restart_reads_and_examines_nothing() {
    let state = tempfile::tempdir().unwrap();
    let mut bench = Bench::open(Arc::default(), Some(state.path()));
    bench.write("blanks/heron.md", CARD);
    bench.write("builds/ilse.md", &build("heron", "Loads early."));
    bench.write("builds/otto.md", &build("nowhere", "x"));
    bench.settle();
    let shelf = bench.shelf.clone();
    let before = format!("{:?}", bench.ask(Request::Flags { flag: None }));
    drop(bench);

    let mut again = Bench::open(shelf.clone(), Some(state.path()));
    assert_eq!(again.engine.generation(), 1);
    assert_eq!(again.engine.pending(), 0);
    assert_eq!(again.found("loads"), ["builds/ilse"]);
    assert_eq!(format!("{:?}", again.ask(Request::Flags { flag: None })), before);
    again.write("blanks/heron.md", &CARD.replace("7'2\"", "7'4\""));
    assert_eq!(again.settle(), 2, "who depends on the card is known after a restart too");
}

#[test]
fn an_index_that_is_behind_its_ledger_by_a_commit_is_taken_up() {
    let (state, kept) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let mut bench = Bench::open(Arc::default(), Some(state.path()));
    bench.write("notes/a.md", "one");
    bench.settle();
    let shelf = bench.shelf.clone();
    drop(bench);
    // As when a process is killed after the ledger has a commit and before the index does.
    copy(&current(state.path()).join("index"), kept.path());
    let mut bench = Bench::open(shelf.clone(), Some(state.path()));
    bench.write("notes/b.md", "two");
    bench.settle();
    drop(bench);
    std::fs::remove_dir_all(current(state.path()).join("index")).unwrap();
    copy(kept.path(), &current(state.path()).join("index"));

    let mut again = Bench::open(shelf.clone(), Some(state.path()));
    assert_eq!(again.engine.generation(), 1);
    assert_eq!(again.engine.contents().map(|(path, _)| path).collect::<Vec<_>>(), ["notes/a.md"]);
    assert_eq!(again.found("one or two"), ["notes/a"]);
    again.write("notes/b.md", "two");
    again.settle();
    assert_eq!(again.found("one or two"), ["notes/a", "notes/b"]);
    drop(again);
    assert_eq!(Bench::open(shelf, Some(state.path())).engine.generation(), 2);
}

fn copy(from: &std::path::Path, to: &std::path::Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        if entry.file_type().unwrap().is_file() {
            std::fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
        }
    }
}

/// Fills an empty engine by many commits from some number on.
fn fill(bench: &mut Bench, numbers: std::ops::Range<usize>) {
    for number in numbers {
        bench.write(&format!("notes/{number}.md"), &format!("one {number}"));
        bench.generation += 1;
        bench.engine.commit(bench.generation).unwrap();
    }
}

/// Rests until the index is one segment.
#[track_caller]
fn rest_until_compact(bench: &mut Bench, state: &std::path::Path) {
    let deadline = std::time::Instant::now() + std::time::Duration::from_secs(120);
    let n_segments = || {
        let files = std::fs::read_dir(current(state).join("index")).unwrap();
        let names = files.map(|file| file.unwrap().file_name());
        names.filter(|name| name.to_string_lossy().ends_with(".store")).count()
    };
    bench.engine.rest().unwrap();
    while n_segments() != 1 {
        assert!(std::time::Instant::now() < deadline, "{} segments are left", n_segments());
        bench.engine.refresh().unwrap();
        std::thread::yield_now();
    }
}

#[test]
fn after_the_first_rest_the_index_is_compact_also_where_a_kill_came_before() {
    let (state, kept) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let mut bench = Bench::open(Arc::default(), Some(state.path()));
    fill(&mut bench, 0..12);
    bench.write("notes/late.md", "read and not committed");
    // As a kill in the midst of a first look would leave it.
    std::fs::copy(state.path().join("current"), kept.path().join("current")).unwrap();
    for part in ["", "index"] {
        copy(&current(state.path()).join(part), &current(kept.path()).join(part));
    }
    fill(&mut bench, 12..20);
    bench.settle();
    rest_until_compact(&mut bench, state.path());
    assert_eq!(bench.found("one").len(), 20);
    assert_eq!(bench.found("committed"), ["notes/late"]);

    let mut killed = Bench::open(bench.shelf.clone(), Some(kept.path()));
    assert_eq!((killed.engine.generation(), killed.engine.pending()), (12, 12));
    assert_eq!(killed.found("committed"), [""; 0]);
    killed.write("notes/late.md", "read and not committed");
    fill(&mut killed, 12..20);
    killed.settle();
    rest_until_compact(&mut killed, kept.path());
    assert_eq!(killed.found("one").len(), 20);
    assert_eq!(killed.found("committed"), ["notes/late"]);
}

#[test]
fn a_ledger_of_many_commits_is_written_anew() {
    let state = tempfile::tempdir().unwrap();
    let mut bench = Bench::open(Arc::default(), Some(state.path()));
    let card = |round: usize| CARD.replace("7'2\"", &format!("{} in", 80 + round));
    let length = || std::fs::metadata(current(state.path()).join("ledger")).unwrap().len();
    let (mut before, mut n_shrunk) = (0, 0);
    bench.write("builds/ilse.md", &build("nowhere", "Loads early."));
    bench.write("builds/otto.md", &build("0", "Loads late."));
    for round in 0..36 {
        for at in 0..200 {
            bench.write(&format!("blanks/{at}.md"), &card(round));
        }
        bench.settle();
        n_shrunk += usize::from(length() < before);
        before = length();
    }
    assert!(0 < n_shrunk, "{before} bytes");
    let before = all_of(&bench);
    let shelf = bench.shelf.clone();
    drop(bench);
    let again = Bench::open(shelf, Some(state.path()));
    assert_eq!(again.engine.generation(), 36);
    assert_eq!(all_of(&again), before);
}

/// All that an engine answers of what it has.
fn all_of(bench: &Bench) -> String {
    let contents: Vec<_> = bench.engine.contents().collect();
    let mut text = format!("{contents:?}\n");
    let find = ["", "loads", "siblings>=0", "flag:no-card"];
    let find = find.map(|query| Request::Find { query: query.into(), limit: 1000 });
    let others = [
        Request::Names {},
        Request::Flags { flag: None },
        Request::Check { paths: Vec::new() },
        Request::Faults { only: None, skip: 0, limit: 1000 },
        Request::Show { record: "ilse".into() },
    ];
    for request in find.into_iter().chain(others) {
        let answer = match bench.ask(request) {
            Answer::Find(mut found) => {
                found.took_ms = 0.0;
                Answer::Find(found)
            }
            answer => answer,
        };
        text += &format!("{answer:#?}\n");
    }
    text
}

/// What a close leaves says the same as the ledger, and counts only where it belongs to it.
#[test]
fn what_a_close_leaves_agrees_with_the_ledger() {
    let state = tempfile::tempdir().unwrap();
    let closed = || current(state.path()).join("closed");
    let shelf: Arc<Shelf> = Arc::default();
    let steps: [&[(&str, Option<&str>)]; 4] = [
        &[
            ("blanks/heron.md", Some(CARD)),
            ("builds/ilse.md", Some(&build("heron", "Loads early."))),
            ("builds/otto.md", Some(&build("nowhere", "Loads late."))),
            ("notes/odd.md", Some("---\nkind: build\nlength: 7\nlimits: { power: 9 }\n---\n")),
        ],
        &[("builds/otto.md", None), ("builds/nils.md", Some(&build("nowhere", "Too soft.")))],
        &[("blanks/heron.md", Some(&CARD.replace("7'2\"", "7'4\"")))],
        &[("blanks/heron.md", None)],
    ];
    for (round, step) in steps.into_iter().enumerate() {
        let mut bench = Bench::open(shelf.clone(), Some(state.path()));
        for (path, text) in step {
            match text {
                Some(text) => bench.write(path, text),
                None => bench.remove(path),
            }
        }
        let unreadable = Change::Unreadable { path: "x.md".into(), why: format!("why {round}") };
        bench.engine.apply(vec![unreadable]);
        let n_examined = bench.settle();
        // In the last the build of the card that goes, and the one whose card is missing: what it may mean is another now.
        assert_eq!(n_examined, [4, 1, 2, 2][round], "round {round}");
        let expected = all_of(&bench);
        drop(bench);
        // As it was left, without it, and with it damaged: in its first half, and where the graph is.
        let left = std::fs::read(closed()).unwrap();
        let damages: [fn(Vec<u8>) -> Vec<u8>; 4] = [
            |left| left,
            |_| Vec::new(),
            |mut left| {
                left[200] ^= 1;
                left
            },
            |mut left| {
                left.truncate(left.len() - 1);
                left
            },
        ];
        for damage in damages {
            std::fs::write(closed(), damage(left.clone())).unwrap();
            let again = Bench::open(shelf.clone(), Some(state.path()));
            assert_eq!(all_of(&again), expected, "round {round}");
            assert_eq!(again.engine.unreadable().collect::<Vec<_>>().len(), 1);
        }
        std::fs::write(closed(), left).unwrap();
    }

    // A graph that is damaged is found out when it is wanted, and then all is read from the ledger.
    let mut left = std::fs::read(closed()).unwrap();
    let last = left.len() - 1;
    left[last] ^= 1;
    std::fs::write(closed(), &left).unwrap();
    let mut bench = Bench::open(shelf.clone(), Some(state.path()));
    let expected = all_of(&bench);
    bench.engine.apply(vec![Change::Removed { path: "builds/nils.md".into() }]);
    assert!(bench.engine.commit(9).is_err());
    drop(bench);
    let mut bench = Bench::open(shelf.clone(), Some(state.path()));
    assert_eq!(all_of(&bench), expected);
    bench.write("blanks/heron.md", CARD);
    assert_eq!(bench.settle(), 3, "the card, its build, and the one whose card is missing");
    let expected = all_of(&bench);
    drop(bench);

    // A ledger that was written to since is read whole.
    let path = current(state.path()).join("ledger");
    let mut bytes = std::fs::read(&path).unwrap();
    bytes.extend(b"something that is no frame");
    std::fs::write(&path, bytes).unwrap();
    assert_eq!(all_of(&Bench::open(shelf.clone(), Some(state.path()))), expected);
    let bytes = std::fs::read(&path).unwrap();
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    assert_eq!(Bench::open(shelf, Some(state.path())).engine.generation(), 0);
}

/// An answer whose numbers can't be read back says so, and the next start does better.
#[test]
fn a_ledger_that_is_damaged_under_a_running_engine_is_noticed() {
    let state = tempfile::tempdir().unwrap();
    let mut bench = Bench::open(Arc::default(), Some(state.path()));
    let path = current(state.path()).join("ledger");
    bench.write("builds/ilse.md", &build("nowhere", "Loads early."));
    bench.settle();
    assert!(bench.engine.is_intact());
    let length = std::fs::metadata(&path).unwrap().len();
    std::fs::File::options().write(true).open(&path).unwrap().set_len(length / 2).unwrap();
    assert!(!bench.engine.is_intact());
    match bench.ask(Request::Find { query: "loads".into(), limit: 1 }) {
        Answer::Refused(refusal) => assert!(refusal.message.contains("ask again"), "{refusal:?}"),
        other => panic!("{other:?}"),
    }
    let shelf = bench.shelf.clone();
    drop(bench);
    assert_eq!(Bench::open(shelf, Some(state.path())).engine.generation(), 0);
}

#[test]
fn what_was_worked_out_from_a_text_that_nobody_told_is_worked_out_again() {
    let mut bench = Bench::new();
    bench.write("notes/a.md", "# One");
    bench.settle();
    assert_eq!(bench.engine.take_doubts(), [""; 0]);

    // It waits for its turn without its text, and when that comes the file says another thing.
    bench.write("notes/a.md", "# Two");
    bench.engine.commit(2).unwrap();
    let put = |bench: &Bench, text: &str| {
        bench.shelf.0.lock().unwrap().insert("notes/a.md".into(), text.into());
    };
    put(&bench, "# Three");
    bench.engine.examine(usize::MAX);
    bench.engine.commit(3).unwrap();
    assert_eq!(bench.found("three"), [""; 0], "nobody told of it");
    assert_eq!(bench.found("two"), ["notes/a"]);
    assert_eq!(bench.engine.take_doubts(), ["notes/a.md"]);
    assert_eq!(bench.engine.take_doubts(), [""; 0], "it is told once");

    // It is what it was by the time that somebody looks, and is worked out again all the same.
    bench.generation = 3;
    bench.write("notes/a.md", "# Two");
    assert_eq!(bench.settle(), 1);
    bench.write("notes/a.md", "# Two");
    assert_eq!(bench.settle(), 0);
}

#[test]
fn a_ledger_and_an_index_that_don_t_agree_count_as_nothing() {
    let state = tempfile::tempdir().unwrap();
    let mut bench = Bench::open(Arc::default(), Some(state.path()));
    bench.write("notes/a.md", "one");
    bench.settle();
    let ledger = std::fs::read(current(state.path()).join("ledger")).unwrap();
    bench.write("notes/b.md", "two");
    bench.settle();
    drop(bench);
    std::fs::write(current(state.path()).join("ledger"), ledger).unwrap();
    let again = Bench::open(Arc::default(), Some(state.path()));
    assert_eq!(again.engine.generation(), 0);
    assert!(again.found("one").is_empty());
}

/// One whose files were deleted has no say in what another makes in their place, whatever it still writes.
#[test]
fn two_engines_at_one_place_never_mix() {
    let state = tempfile::tempdir().unwrap();
    let mut old = Bench::open(Arc::default(), Some(state.path()));
    old.write("notes/old.md", "whipping");
    old.settle();
    for entry in std::fs::read_dir(state.path()).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { std::fs::remove_dir_all(path) } else { std::fs::remove_file(path) }
            .unwrap();
    }
    let mut new = Bench::open(Arc::default(), Some(state.path()));
    new.write("notes/new.md", "whipping");
    new.settle();
    assert_eq!(old.engine.generation(), new.engine.generation());
    assert_ne!(old.engine.state(), new.engine.state());
    // It has not noticed yet.
    for round in 0..300 {
        old.write(&format!("notes/{round}.md"), "whipping");
    }
    old.engine.examine(usize::MAX);
    assert!(old.engine.commit(2).is_err());
    drop(old);
    new.write("notes/next.md", "whipping");
    new.settle();
    assert_eq!(new.found("whipping"), ["notes/new", "notes/next"]);
    let named = new.engine.state();
    drop(new);
    let again = Bench::open(Arc::default(), Some(state.path()));
    assert_eq!(again.engine.state(), named);
    assert_eq!(again.found("whipping"), ["notes/new", "notes/next"]);
}

/// A directory that can't be used any more is not left lying beside the next.
#[test]
fn only_the_last_that_was_made_stays() {
    let state = tempfile::tempdir().unwrap();
    for _ in 0..3 {
        let mut bench = Bench::open(Arc::default(), Some(state.path()));
        assert_eq!(bench.engine.generation(), 0);
        bench.write("notes/a.md", "one");
        bench.settle();
        drop(bench);
        std::fs::remove_file(current(state.path()).join("ledger")).unwrap();
    }
    let names = std::fs::read_dir(state.path()).unwrap().map(|entry| entry.unwrap().file_name());
    assert_eq!(names.count(), 2, "one directory, and the file that names it");
}
