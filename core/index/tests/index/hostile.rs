//! A thousand queries that nobody asks in good faith: each has a right answer, or an error that points into it.
//!
//! How long the slowest took is told on standard error; nothing depends on it.

use std::cell::RefCell;
use std::io::Write as _;
use std::time::{Duration, Instant};

use taperbook_index::Searcher;

use crate::asking::{ask, grouped};
use crate::generated::{Dice, generated_shop};
use crate::shop::indexed;
use crate::walk::{Answer, Ask, Shop, Walked};

/// The generated records, as an index and as what is walked over.
struct Both {
    searcher: Searcher,
    shop: Shop,
    /// The slowest query, and how long it took.
    slowest: RefCell<(Duration, String)>,
}

impl Both {
    fn new() -> Self {
        let entries = generated_shop(11, 300);
        let walked = entries.iter().map(|entry| (entry.id.clone(), Walked::new(entry)));
        let slowest = RefCell::default();
        Self { searcher: indexed(&entries), shop: walked.collect(), slowest }
    }

    fn walk(&self, question: &Ask) -> Vec<String> {
        let is_found = |walked: &&Walked| question.answer(walked, &self.shop) == Answer::Yes;
        self.shop.values().filter(is_found).map(|walked| walked.entry.id.clone()).collect()
    }

    /// Asks; gives the ids that are found, or nothing where the query is refused as it should be.
    #[track_caller]
    fn found(&self, query: &str) -> Option<Vec<String>> {
        let shown: String = query.chars().take(200).collect();
        let begun = Instant::now();
        let parsed = self.searcher.parse(query).map(|parsed| {
            let ids = self.searcher.matching(&parsed).unwrap();
            (parsed, ids)
        });
        let took = begun.elapsed();
        if self.slowest.borrow().0 < took {
            *self.slowest.borrow_mut() = (took, shown.clone());
        }
        match parsed {
            Ok((parsed, ids)) => {
                let found = self.searcher.find(&parsed, 5).unwrap();
                assert_eq!(
                    (found.total, found.hits.len()),
                    (ids.len(), ids.len().min(5)),
                    "{shown}"
                );
                Some(ids)
            }
            Err(error) => {
                assert!(query.get(error.at.clone()).is_some(), "{:?} in {shown:?}", error.at);
                let rendered = error.render(query);
                let lines: Vec<_> = rendered.lines().collect();
                assert!(lines.len() == 3 && lines[2].trim().starts_with('^'), "{rendered}");
                assert!(rendered.len() < 2000, "{}", rendered.len());
                None
            }
        }
    }

    #[track_caller]
    fn refuses(&self, query: &str) {
        let shown: String = query.chars().take(200).collect();
        assert_eq!(self.found(query), None, "{shown} is understood");
    }
}

/// What patterns, shells, scripts and other tongues put into a search.
const PIECES: [&str; 44] = [
    ".*",
    "^spoon$",
    "[a-z]+",
    "(?i)",
    "\\d{1,9999}",
    "(a+)+$",
    "*",
    "**",
    "a**",
    "?",
    "%",
    "_",
    "\\",
    "\\\"",
    "'",
    "\"",
    "“",
    "«",
    "`",
    "$(reboot)",
    "; --",
    "/*",
    "<script>",
    "&amp;",
    "\0",
    "\u{7f}",
    "\u{202e}",
    "\u{feff}",
    "🎣",
    "竿先",
    "e\u{301}\u{302}\u{303}",
    "ﬁ",
    "İ",
    "ß",
    "or",
    "OR",
    "-",
    "--",
    "(",
    ")",
    ":",
    "..",
    ">=",
    "=",
];

fn nasty(dice: &mut Dice) -> String {
    let count = 1 + dice.below(12);
    let between = *dice.pick(&["", " ", "\t", ":"]);
    (0..count).map(|_| *dice.pick(&PIECES)).collect::<Vec<_>>().join(between)
}

/// Changes a query at some places.
fn spoilt(dice: &mut Dice, text: &str) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    for _ in 0..1 + dice.below(3) {
        let at = dice.below(chars.len() + 1);
        let piece: Vec<char> = dice.pick(&PIECES).chars().collect();
        match dice.below(3) {
            0 => drop(chars.splice(at..at, piece)),
            1 if at < chars.len() => drop(chars.remove(at)),
            _ => chars.truncate(at),
        }
    }
    chars.into_iter().collect()
}

#[test]
fn a_thousand_hostile_queries() {
    let both = Both::new();
    let mut dice = Dice(21);
    let (mut n_asked, mut n_understood) = (0, 0);
    let mut count = |found: Option<Vec<String>>| {
        n_asked += 1;
        n_understood += u32::from(found.is_some());
    };
    // A megabyte of each, alone and behind a good query.
    for piece in PIECES {
        for before in ["", "spoons "] {
            let query = format!("{before}{}", piece.repeat(1_000_000 / piece.len()));
            both.refuses(&query);
            count(None);
        }
    }
    for _ in 0..400 {
        count(both.found(&nasty(&mut dice)));
        let (text, _) = ask(&mut dice, 2);
        count(both.found(&spoilt(&mut dice, &text)));
    }
    for _ in 0..60 {
        // Nested as deep as is allowed, doubly negated, and said over and over: the same answer.
        let (text, question) = grouped(&mut dice, 1);
        let expected = both.walk(&question);
        let deep = 20 + dice.below(8);
        let forms = [
            format!("{}{text}{}", "(".repeat(deep), ")".repeat(deep)),
            format!("{}{text}{}", "-(-(".repeat(6), "))".repeat(6)),
            vec![text.clone(); 20].join(" or "),
            vec![text.clone(); 20].join("   "),
        ];
        for form in forms {
            let found = both.found(&form);
            assert_eq!(found.as_ref(), Some(&expected), "{form}\n{question:?}");
            count(found);
        }
    }
    assert!(1000 <= n_asked, "{n_asked}");
    let (took, query) = both.slowest.take();
    let told = format!("slowest of {n_asked} hostile queries: {:.1} ms", took.as_secs_f64() * 1e3);
    writeln!(std::io::stderr(), "{told}: {query:?}").unwrap();
    // Were all of them refused, or none, this would prove little.
    assert!(n_asked / 10 < n_understood && n_understood < n_asked * 9 / 10, "{n_understood}");
}

#[test]
fn numbers_that_are_huge_tiny_or_no_numbers() {
    let both = Both::new();
    let all = both.found("length:0mm..").unwrap();
    assert!(100 < all.len());
    let digits = |count: usize| "9".repeat(count);
    for (query, expected) in [
        (format!("length<{}mm", digits(15)), all.clone()),
        (format!("length>{}mm", digits(15)), Vec::new()),
        (format!("length>0.{}1mm", "0".repeat(300)), all.clone()),
        (format!("length<0.{}1mm", "0".repeat(300)), Vec::new()),
        (format!("length:..{}km or length:0mm..", digits(3)), all.clone()),
    ] {
        // Either what it says, or an error.
        if let Some(found) = both.found(&query) {
            assert_eq!(found, expected, "{query}");
        }
    }
    for number in [
        "1e400mm",
        "-1mm",
        "nanmm",
        "infmm",
        "0x1Fmm",
        "1,5mm",
        "1.000.000mm",
        "1/0in",
        "1 0/0 in",
        "٣mm",
        "½mm",
        "mm",
        "7''''",
        "7'99\"",
        "..",
        "...",
        "1mm..",
        "..1mm..",
        "1mm..2mm..3mm",
        "1mm..g",
        "1g..2g",
    ] {
        for operator in [":", "<", ">=", "≤"] {
            let query = format!("length{operator}{number}");
            let _ = both.found(&query);
            let _ = both.found(&format!("({query}) -{query} or \"{query}"));
        }
    }
}

#[test]
fn a_range_the_wrong_way_round_finds_nothing_or_is_refused() {
    let both = Both::new();
    for query in [
        "length:9ft..1ft",
        "tip_cut:3in..1mm",
        "power:9kg..1g",
        "date:2026..2024",
        "rating:5..1",
        "limits.length:9m..1mm",
    ] {
        // A record's own range may contain both ends, but nothing lies between them the wrong way round.
        let found = both.found(query);
        assert!(found.is_none_or(|found| found.is_empty()), "{query}");
    }
}
