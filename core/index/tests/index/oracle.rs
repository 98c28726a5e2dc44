//! Answers beside those of a plain walk over the records, for many generated questions.

use taperbook_index::{Index, Searcher};

use crate::asking::ask;
use crate::generated::{Dice, generated_shop, wish};
use crate::shop::{Entry, catalogue, indexed, put};
use crate::walk::{Answer, Shop, Walked};

#[test]
fn the_same_records_as_a_plain_walk_finds() {
    let count = wish("TAPERBOOK_RECORDS", 500);
    let seed = wish("TAPERBOOK_SEED", 1);
    let n_queries: u64 = wish("TAPERBOOK_QUERIES", 1000);
    let entries = generated_shop(seed, count);
    let shop: Shop = entries.iter().map(|entry| (entry.id.clone(), Walked::new(entry))).collect();
    let searcher = indexed(&entries);
    let mut dice = Dice(seed + 1);
    let mut n_partly = 0;
    for _ in 0..n_queries {
        let (text, question) = ask(&mut dice, 3);
        let query = searcher.parse(&text).unwrap_or_else(|error| panic!("{}", error.render(&text)));
        let found = searcher.matching(&query).unwrap();
        let expected: Vec<String> = shop
            .values()
            .filter(|walked| question.answer(walked, &shop) == Answer::Yes)
            .map(|walked| walked.entry.id.clone())
            .collect();
        assert_eq!(found, expected, "{text}\n{question:?}");
        n_partly += u64::from(!expected.is_empty() && expected.len() < shop.len());
    }
    // Questions that find nothing or everything prove little: most must find some.
    assert!(n_queries * 6 / 10 < n_partly, "{n_partly} of {n_queries}");
}

/// An index that went through changes gives the same hits in the same order as one made at once.
#[test]
fn the_past_of_an_index_leaves_no_trace() {
    let entries = generated_shop(3, 200);
    let mut dice = Dice(4);
    let fresh = indexed(&entries);
    let mut index = Index::create(None, catalogue()).unwrap();
    let other = generated_shop(5, 200);
    for step in 0..10 {
        // Records come in any order, are replaced, and some go and come back.
        let some: Vec<Entry> = other.iter().filter(|_| dice.chance(30)).cloned().collect();
        put(&mut index, &some);
        for entry in &entries {
            if dice.chance(20) {
                index.remove(&entry.id).unwrap();
            }
        }
        index.commit(&step.to_string()).unwrap();
    }
    for entry in &other {
        index.remove(&entry.id).unwrap();
    }
    let mut shuffled = entries.clone();
    for at in 0..shuffled.len() {
        shuffled.swap(at, dice.below(at + 1));
    }
    for part in shuffled.chunks(30) {
        put(&mut index, part);
        index.commit("").unwrap();
    }
    let grown = index.commit("").unwrap();
    assert_eq!(grown.ids().unwrap(), fresh.ids().unwrap());
    check_same_hits(&grown, &fresh, &mut dice);
    let settled = index.settle().unwrap();
    check_same_hits(&settled, &fresh, &mut dice);
}

#[track_caller]
fn check_same_hits(one: &Searcher, other: &Searcher, dice: &mut Dice) {
    for _ in 0..300 {
        let (text, _) = ask(dice, 3);
        let [one, other] =
            [one, other].map(|searcher| searcher.find(&searcher.parse(&text).unwrap(), 7).unwrap());
        assert_eq!(one, other, "{text}");
    }
}
