use super::*;

/// So many that they are worked out on all cores.
const N: usize = 24;

/// Flags a note with the titles of the builds, each through a memo, and fails where one of them is called so.
struct Titles;

impl Plugin for Titles {
    fn manifest(&self) -> Manifest {
        let flags = vec![FlagSpec { name: "titles", finds: "f", why: "w", example: "e" }];
        Manifest { name: "titles", version: "1", numbers: Vec::new(), flags }
    }

    fn flags(&self, record: &Record, view: &View) -> Vec<Finding> {
        if record.id != "notes/all" {
            return Vec::new();
        }
        let ids: Vec<String> = view.all(Kind::Build).iter().map(|build| build.id.clone()).collect();
        let titles = view.memos("title", &ids, |view, id| {
            let title = view.record(id).map(|record| record.title.clone()).unwrap_or_default();
            assert_ne!(title, "Fail");
            title
        });
        let message = titles.iter().map(|title| title.as_str()).collect::<Vec<_>>().join(" ");
        vec![Finding { flag: "titles".into(), message, span: None }]
    }
}

#[test]
fn memos_that_are_worked_out_together_are_those_that_were_asked_for() {
    let shelf: Arc<Shelf> = Arc::default();
    let plugins: Vec<Box<dyn Plugin>> = vec![Box::new(Titles)];
    let engine = Engine::open(Setup { state_dir: None, plugins, files: shelf.clone() }).unwrap();
    let mut bench = Bench { shelf, engine, n_examined: Arc::default(), generation: 0 };
    let titled = |title: &str| format!("---\nkind: build\n---\n# {title}\n");
    let flags = |bench: &Bench| match bench.ask(Request::Check { paths: vec!["notes".into()] }) {
        Answer::Check(check) => {
            let flag = &check.flags[0];
            (check.flags.len(), flag.flag.clone(), flag.message.clone())
        }
        other => panic!("{other:?}"),
    };
    let mut titles: Vec<String> = (0..N).map(|idx| format!("T{idx}")).collect();
    for (idx, title) in titles.iter().enumerate() {
        bench.write(&format!("builds/b{idx:02}.md"), &titled(title));
    }
    bench.write("notes/all.md", "all of them");
    bench.settle();
    assert_eq!(flags(&bench), (1, "titles".to_owned(), titles.join(" ")));
    bench.write("builds/b07.md", &titled("Fail"));
    bench.settle();
    assert_eq!(flags(&bench).1, "plugin-failed", "it does not pass as worked out");
    for idx in [7, 20] {
        titles[idx] = "Mended".to_owned();
        bench.write(&format!("builds/b{idx:02}.md"), &titled("Mended"));
    }
    bench.settle();
    assert_eq!(flags(&bench), (1, "titles".to_owned(), titles.join(" ")));
}
