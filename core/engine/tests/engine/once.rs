//! A record is in the index once, whatever came of it in whatever order: written twice in one go, gone and back,
//! examined in between or not, more of them than wait with their text in memory.

use taperbook_engine::{Answer, Change, Request};

use super::Bench;

/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014).
pub(super) struct Dice(pub(super) u64);

impl Dice {
    pub(super) fn below(&mut self, count: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (bits ^ (bits >> 31)) % count
    }
}

/// Up to 700 changes of 400 records, in one go.
fn changes(bench: &Bench, dice: &mut Dice) -> Vec<Change> {
    let mut files = bench.shelf.0.lock().unwrap();
    (0..dice.below(700))
        .map(|_| {
            let path = format!("notes/{}.md", dice.below(400));
            match dice.below(4) {
                0 => {
                    files.remove(&path);
                    Change::Removed { path }
                }
                _ => {
                    let text = format!("tape w{}\n", dice.below(3));
                    files.insert(path.clone(), text.clone());
                    Change::Written { path, bytes: text.into() }
                }
            }
        })
        .collect()
}

/// How often each id is found by a word.
fn ids(bench: &Bench, word: &str) -> Vec<String> {
    match bench.ask(Request::Find { query: word.into(), limit: 10_000 }) {
        Answer::Find(found) => {
            let mut ids: Vec<String> = found.hits.into_iter().map(|hit| hit.record).collect();
            assert_eq!(found.total, ids.len());
            ids.sort();
            ids
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_record_is_in_the_index_once() {
    for seed in 0..6 {
        let mut dice = Dice(seed);
        let mut bench = Bench::new();
        for _ in 0..12 {
            let changes = changes(&bench, &mut dice);
            bench.engine.apply(changes);
            if dice.below(2) == 0 {
                bench.engine.examine(usize::try_from(dice.below(500)).unwrap());
            }
            if dice.below(2) == 0 {
                bench.generation += 1;
                bench.engine.commit(bench.generation).unwrap();
            }
        }
        bench.generation += 1;
        bench.engine.commit(bench.generation).unwrap();
        for is_examined in [false, true] {
            if is_examined {
                bench.settle();
            }
            for word in ["tape", "w0", "w1", "w2"] {
                let files = bench.shelf.0.lock().unwrap().clone();
                let with_word = files.iter().filter(|(_, text)| text.contains(word));
                let expected: Vec<String> =
                    with_word.map(|(path, _)| path.trim_end_matches(".md").to_owned()).collect();
                assert_eq!(ids(&bench, word), sorted(expected), "`{word}`, seed {seed}");
            }
        }
    }
}

fn sorted(mut ids: Vec<String>) -> Vec<String> {
    ids.sort();
    ids
}
