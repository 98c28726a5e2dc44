//! A shop folder of any size: records of realistic make, for measuring and for tests on many records.
//!
//! It is fast rather than exact: the power and the weight of a few dozen blanks come from the simulated bench, and every card and build scales one of them by closed rules.
//! The demo folder, whose every reading is simulated, is [`crate::demo`].
//!
//! Of the records about 2 % are blank cards, 75 % builds, 3 % fittings and 20 % plain notes.
//! Of the builds about an eighth is uncut, a tenth is being worked on, one in forty has gone past a limit and one in two hundred is mistyped.
//! Words follow Zipf's law, so there are words in nearly every record and words in one alone; some have accents.

mod build;
mod card;
mod stock;
mod words;

use std::io;
use std::path::Path;

use crate::rng::Rng;

use stock::Stock;
use words::Words;

/// The `shop.yaml` of the generated folder.
#[must_use]
pub fn shop() -> &'static str {
    "name: A generated shop\nunits: inches\nheld_at: 9 in\nboards:\n  long board: { clamp: vice }\nclamps:\n  vice: { note: cork lined }\nerrors: { caliper: 0.03 mm, scale: 0.5 g, reclamp: 2 % }\nsaws:\n  rotary disc: { kerf: 0.7 mm }\n  fine saw: { kerf: 0.9 mm }\n"
}

/// Makes `n` records, each as its path in the shop folder and its text; `shop.yaml` is not among them.
///
/// The same `n` and `seed` give the same records.
pub fn records(n: usize, seed: u64) -> impl Iterator<Item = (String, String)> {
    let maker = Maker::new(n, seed);
    (0..n).map(move |i| maker.record(i))
}

/// Writes `shop.yaml` and `n` records into a folder; other files there stay as they are.
///
/// # Errors
/// When a folder or file can't be written.
pub fn write(folder: &Path, n: usize, seed: u64) -> io::Result<()> {
    let shop = [("shop.yaml".to_owned(), shop().to_owned())];
    crate::helpers::write_files(folder, shop.into_iter().chain(records(n, seed)))
}

struct Maker {
    seed: u64,
    n_blanks: usize,
    n_fittings: usize,
    n_notes: usize,
    stock: Stock,
    words: Words,
}

impl Maker {
    fn new(n: usize, seed: u64) -> Self {
        let share = |percent: usize| (n * percent + 50) / 100;
        let n_blanks = share(2).clamp(n.min(1), n);
        Self {
            seed,
            n_blanks,
            n_fittings: share(3).min(n - n_blanks),
            n_notes: share(20).min(n - n_blanks - share(3).min(n - n_blanks)),
            stock: Stock::new(seed),
            words: Words::new(),
        }
    }

    fn record(&self, i: usize) -> (String, String) {
        let mut rng = Rng::named(self.seed, &format!("record {i}"));
        let fittings_from = self.n_blanks;
        let notes_from = fittings_from + self.n_fittings;
        let builds_from = notes_from + self.n_notes;
        if i < fittings_from {
            let card = self.stock.card(i);
            (format!("blanks/{}.md", card.name), card::blank(&card, &mut rng, &self.words))
        } else if i < notes_from {
            (format!("fittings/drawer-{i}.md"), card::fitting(&mut rng, &self.words))
        } else if i < builds_from {
            let title = self.words.title(&mut rng);
            let name = words::file_name(&title);
            let year = 2018 + rng.below(9);
            (format!("notes/{year}/{name}-{i}.md"), self.words.note(&title, &mut rng))
        } else {
            // Some models are cut all the time and some once.
            let card = self.stock.card(rng.zipf(self.n_blanks));
            let (customer, plain) = *rng.pick(&words::CUSTOMERS);
            let year = 2018 + rng.below(9);
            let path = format!("builds/{year}/{plain}-{}-{i}.md", card.name);
            (path, build::build(&card, customer, year, &mut rng, &self.words))
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::{BTreeMap, BTreeSet};

    use super::*;

    #[test]
    fn the_shares_are_as_said() {
        for n in [0, 1, 2, 3, 50, 1000] {
            let mut counts = BTreeMap::new();
            let mut paths = BTreeSet::new();
            for (path, text) in records(n, 1) {
                let folder = path.split('/').next().expect("there is a folder").to_owned();
                *counts.entry(folder).or_insert(0_usize) += 1;
                assert!(text.ends_with('\n'), "{path}");
                assert!(paths.insert(path), "no path twice");
            }
            assert_eq!(paths.len(), n);
            if n == 1000 {
                let expected = [("blanks", 20), ("builds", 750), ("fittings", 30), ("notes", 200)];
                let expected = expected.map(|(folder, count)| (folder.to_owned(), count));
                assert_eq!(counts, BTreeMap::from(expected));
            }
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_folder() {
        let one: Vec<_> = records(200, 9).collect();
        let same: Vec<_> = records(200, 9).collect();
        let other: Vec<_> = records(200, 10).collect();
        assert_eq!(one, same);
        assert_ne!(one, other);
    }

    #[test]
    fn every_build_names_a_card_that_is_there() {
        let files: Vec<_> = records(600, 3).collect();
        let stems: BTreeSet<&str> = files
            .iter()
            .filter_map(|(path, _)| path.strip_prefix("blanks/")?.strip_suffix(".md"))
            .collect();
        let mut named = BTreeMap::new();
        for (path, text) in files.iter().filter(|(path, _)| path.starts_with("builds/")) {
            let blank = text.lines().find_map(|line| line.strip_prefix("blank: "));
            let blank = blank.unwrap_or_else(|| panic!("{path} names a blank"));
            assert!(stems.contains(blank), "{path}: {blank}");
            *named.entry(blank).or_insert(0_usize) += 1;
        }
        let most = named.values().max().copied().unwrap_or_default();
        assert!(60 < most, "one model has many builds, not {most} at most");
    }

    #[test]
    fn some_words_are_everywhere_and_some_in_one_record() {
        let mut in_records: BTreeMap<String, usize> = BTreeMap::new();
        let mut accents = false;
        let files: Vec<_> = records(1000, 4).collect();
        for (_, text) in &files {
            let words: BTreeSet<String> = text
                .split(|c: char| !c.is_alphabetic())
                .filter(|word| 2 < word.len())
                .map(str::to_lowercase)
                .collect();
            accents |= text.contains('ø') || text.contains('é');
            for word in words {
                *in_records.entry(word).or_insert(0) += 1;
            }
        }
        assert!(accents);
        let once = in_records.values().filter(|&&count| count == 1).count();
        let often = in_records.values().filter(|&&count| 500 < count).count();
        assert!(500 < once, "{once} words stand in one record");
        assert!(10 < often, "{often} words stand in most records");
    }
}
