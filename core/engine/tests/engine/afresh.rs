//! Whatever comes in whatever order, and however often the engine is closed or killed in between, in the end it answers
//! as one that has just been made of the same files.

use std::fs;
use std::path::Path;

use super::once::Dice;
use super::*;

/// Tells how many builds of its card a record has, as a number and as advice, and flags builds twice over.
struct Tallying;

impl Tallying {
    fn tally(record: &Record, view: &View) -> Number {
        let Some(name) = record.build().and_then(|build| build.blank.as_ref()) else {
            return Number::missing("a name");
        };
        match view.resolve(&name.value, Kind::Blank) {
            taperbook_plugin::Resolution::Found(card) => {
                let titles = view.memo("titles", &card.id, |view| {
                    view.builds_of(&card.id).iter().map(|build| build.title.len()).sum::<usize>()
                });
                Number::exact(*titles as f64)
            }
            taperbook_plugin::Resolution::Ambiguous(ids) => Number::missing(ids.join(" ")),
            taperbook_plugin::Resolution::Missing(near) => Number::missing(near.join(" ")),
        }
    }
}

impl Plugin for Tallying {
    fn manifest(&self) -> Manifest {
        let (finds, why, example) = ("f", "w", "e");
        let flag = |name| FlagSpec { name, finds, why, example };
        let dimension = Dimension::Count;
        let number = NumberSpec { key: "tally".into(), dimension, meaning: "titles".into() };
        Manifest {
            name: "tallying",
            version: "1",
            numbers: vec![number],
            flags: vec![flag("odd"), flag("no-card")],
        }
    }

    fn numbers(&self, record: &Record, view: &View) -> Vec<(String, Number)> {
        vec![("tally".into(), Self::tally(record, view))]
    }

    fn flags(&self, record: &Record, view: &View) -> Vec<Finding> {
        let numbers = view.numbers(&record.id);
        let tally = numbers.as_ref().and_then(|numbers| numbers.get("tally").cloned());
        let finding =
            |flag: &str| Finding { flag: flag.into(), message: format!("{tally:?}"), span: None };
        match tally.as_ref().and_then(Number::value) {
            _ if record.build().is_none() => Vec::new(),
            None => vec![finding("no-card"), finding("odd")],
            Some(tally) if tally % 2.0 == 1.0 => vec![finding("odd"), finding("odd")],
            Some(_) => Vec::new(),
        }
    }

    fn advise(&self, question: &Question, view: &View) -> Option<Result<Advice, String>> {
        let Question::Suggest { record, .. } = question else { return None };
        let record = view.record(record)?;
        Some(Err(format!("{:?}", Self::tally(&record, view))))
    }
}

fn open(shelf: &Arc<Shelf>, state_dir: Option<&Path>) -> Engine {
    let plugins: Vec<Box<dyn Plugin>> = vec![Box::new(Tallying)];
    let state_dir = state_dir.map(Into::into);
    Engine::open(Setup { state_dir, plugins, files: shelf.clone() }).unwrap()
}

const CARDS: [&str; 6] = [
    "blanks/heron.md",
    "shelf/heron.md",
    "blanks/tern.md",
    "blanks/tern.MD",
    "shelf/coot.MD",
    "shelf/coot.md",
];
const NAMES: [&str; 9] = [
    "heron",
    "blanks/heron",
    "shelf/heron",
    "tern",
    "blanks/tern",
    "coot",
    "shelf/coot",
    "terns",
    "nobody",
];

/// Some changes of cards and of the builds that name them, in one go.
fn changes(shelf: &Shelf, dice: &mut Dice) -> Vec<Change> {
    let mut files = shelf.0.lock().unwrap();
    let mut pick = |of: usize| usize::try_from(dice.below(of as u64)).unwrap();
    (0..pick(12))
        .map(|_| {
            let is_card = pick(3) == 0;
            let path = match is_card {
                true => CARDS[pick(CARDS.len())].to_owned(),
                false => format!("builds/{}.md", pick(20)),
            };
            if pick(4) == 0 {
                files.remove(&path);
                return Change::Removed { path };
            }
            let title = "x".repeat(pick(3) + 1);
            let text = match is_card && pick(6) != 0 {
                true if pick(4) == 0 => {
                    format!("{}# {title}\n", CARD.replace("blank", "offcut"))
                }
                true => format!("{CARD}# {title}\n"),
                false => {
                    format!("{}# {title}\n\nw{}\n", build(NAMES[pick(NAMES.len())], ""), pick(3))
                }
            };
            files.insert(path.clone(), text.clone());
            Change::Written { path, bytes: text.into() }
        })
        .collect()
}

/// What an engine must be told to know of all files as they are, after it was opened.
fn missed(shelf: &Shelf, engine: &Engine) -> Vec<Change> {
    let files = shelf.0.lock().unwrap();
    let known: BTreeMap<String, [u8; 32]> = engine.contents().collect();
    let gone = known.keys().filter(|path| !files.contains_key(*path));
    let gone = gone.map(|path| Change::Removed { path: path.clone() });
    let others = files.iter().filter(|(path, text)| {
        known.get(*path).is_none_or(|hash| hash != blake3::hash(text.as_bytes()).as_bytes())
    });
    let others = others.map(|(path, text)| Change::Written {
        path: path.clone(),
        bytes: text.clone().into_bytes(),
    });
    gone.chain(others).collect()
}

/// Asks one snapshot everything that there is to ask.
fn all_answers(snapshot: &taperbook_engine::Snapshot, shelf: &Shelf) -> Vec<String> {
    let files = shelf.0.lock().unwrap().clone();
    let find = |query: &str| Request::Find { query: query.into(), limit: 1000 };
    let mut requests = vec![
        Request::Faults { only: None, skip: 0, limit: 1000 },
        Request::Flags { flag: None },
        Request::Check { paths: Vec::new() },
    ];
    requests.extend(NAMES.iter().map(|name| find(&format!("blank:{name}"))));
    requests.extend(["flag:odd", "flag:no-card", "tally:1", "tally:2..4", "w1"].map(find));
    for path in files.keys() {
        let record = path.trim_end_matches(".md").to_owned();
        requests.push(Request::Show { record: record.clone() });
        requests.push(Request::Suggest { record, held_at_mm: None });
    }
    let mut answers: Vec<String> = requests
        .iter()
        .map(|request| {
            let mut answer = snapshot.answer(request);
            if let Answer::Find(found) = &mut answer {
                // Hits of one weight may stand in any order, and weights go with how the index is cut.
                found.hits.sort_by(|a, b| a.record.cmp(&b.record));
                let ids: Vec<&str> = found.hits.iter().map(|hit| &*hit.record).collect();
                return format!("{request:?} {} {ids:?}", found.total);
            }
            format!("{request:?} {answer:?}")
        })
        .collect();
    let Answer::Status(status) = snapshot.answer(&Request::Status {}) else { panic!() };
    answers.push(format!("{:?}", (status.records, status.problems, status.flags, status.pending)));
    answers
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let to = to.join(entry.file_name());
        match entry.file_type().unwrap().is_dir() {
            true => copy(&entry.path(), &to),
            // One that was merged into another meanwhile.
            false => drop(fs::copy(entry.path(), to)),
        }
    }
}

#[test]
fn in_the_end_it_answers_as_one_made_afresh() {
    for seed in 0..3 {
        let (mut dice, shelf) = (Dice(seed), Arc::<Shelf>::default());
        let home = tempfile::tempdir().unwrap();
        let mut place = home.path().join("0");
        let mut engine = open(&shelf, Some(&place));
        let mut older = engine.snapshot();
        for turn in 1..=30 {
            let changed = changes(&shelf, &mut dice);
            if dice.below(4) == 0 {
                // Files are read before anybody tells that they have changed.
                all_answers(&older, &shelf);
                engine.examine(usize::try_from(dice.below(20)).unwrap());
            }
            engine.apply(changed);
            if dice.below(2) == 0 {
                // Somebody with an older snapshot asks, also of what has changed since.
                all_answers(&older, &shelf);
            }
            if dice.below(2) == 0 {
                engine.examine(usize::try_from(dice.below(20)).unwrap());
            }
            if dice.below(2) == 0 {
                engine.commit(engine.generation() + 1).unwrap();
                older = engine.snapshot();
            }
            match dice.below(8) {
                0 => {
                    // A kill: what is on the disk is all that is left, and files change before the next start.
                    let left = home.path().join(turn.to_string());
                    copy(&place, &left);
                    drop(engine);
                    place = left;
                    drop(changes(&shelf, &mut dice));
                    engine = open(&shelf, Some(&place));
                    engine.apply(missed(&shelf, &engine));
                }
                1 => {
                    drop(engine);
                    engine = open(&shelf, Some(&place));
                    engine.apply(missed(&shelf, &engine));
                }
                2 => drop(engine.rest().unwrap()),
                // What is written meanwhile is of a commit that may not be the last one when it is there.
                3 => drop(engine.begin_to_rest().unwrap()),
                4 => drop(engine.end_rest().unwrap()),
                _ => {}
            }
            let doubted = engine.take_doubts();
            let files = shelf.0.lock().unwrap().clone();
            engine.apply(
                doubted
                    .into_iter()
                    .map(|path| match files.get(&path) {
                        Some(text) => Change::Written { bytes: text.clone().into(), path },
                        None => Change::Removed { path },
                    })
                    .collect(),
            );
            if dice.below(4) == 0 {
                assert_eq!(engine.examine(usize::MAX), 0);
                engine.commit(engine.generation() + 1).unwrap();
                older = engine.snapshot();
                let mut fresh = open(&shelf, None);
                fresh.apply(missed(&shelf, &fresh));
                assert_eq!(fresh.examine(usize::MAX), 0);
                fresh.commit(1).unwrap();
                let (found, wanted) =
                    (all_answers(&older, &shelf), all_answers(&fresh.snapshot(), &shelf));
                for (found, wanted) in found.iter().zip(&wanted) {
                    assert!(
                        found == wanted,
                        "seed {seed}, turn {turn}\nfound  {found}\nwanted {wanted}"
                    );
                }
            }
        }
    }
}
