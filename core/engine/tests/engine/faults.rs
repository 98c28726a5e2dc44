use super::*;

fn faults(bench: &Bench, only: Option<&str>, skip: usize, limit: usize) -> FaultsAnswer {
    match bench.ask(Request::Faults { only: only.map(str::to_owned), skip, limit }) {
        Answer::Faults(answer) => answer,
        answer => panic!("{answer:?}"),
    }
}

/// Page by page the same is told as at once, and each page counts all there is.
#[test]
fn what_is_told_of_faults_by_pages_is_all_of_it_once() {
    let mut bench = Bench::new();
    bench.write("blanks/heron.md", CARD);
    for (name, blank) in [("a", "nobody"), ("b", "heron"), ("c", "nobody"), ("d", "no one")] {
        let limits = "limits: { length: 7, power: 220 }\nblank:";
        bench.write(&format!("builds/{name}.md"), &build(blank, "x").replace("blank:", limits));
    }
    bench.write("builds/e.md", &build("nobody", "x"));
    bench.settle();
    for (only, n_flags, n_problems) in
        [(None, 4, 8), (Some("flags"), 4, 0), (Some("problems"), 0, 8), (Some("no-card"), 4, 0)]
    {
        let whole = faults(&bench, only, 0, 1000);
        assert_eq!((whole.flags.len(), whole.problems.len()), (n_flags, n_problems), "{only:?}");
        let (mut flags, mut problems) = (Vec::new(), Vec::new());
        for page in 0..5 {
            let told = faults(&bench, only, 3 * page, 3);
            assert!(told.flags.len() + told.problems.len() <= 3, "{only:?}");
            assert_eq!((told.n_problems, &told.n_flags), (8, &whole.n_flags), "{only:?}");
            flags.extend(told.flags);
            problems.extend(told.problems);
        }
        assert_eq!((flags, problems), (whole.flags, whole.problems), "{only:?}");
        assert_eq!(whole.n_flags, BTreeMap::from([("no-card".to_owned(), 4)]));
    }
    bench.write("builds/c.md", &build("heron", "x"));
    bench.write("blanks/nobody.md", CARD);
    bench.settle();
    let left = faults(&bench, None, 0, 1000);
    assert_eq!((left.n_problems, left.n_flags["no-card"], left.flags.len()), (6, 1, 1));
    bench.remove("builds/d.md");
    bench.settle();
    assert!(faults(&bench, None, 0, 1000).n_flags.is_empty());
}
