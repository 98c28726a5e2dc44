//! Bare figures of the index alone, without reading files or working out numbers.
//!
//! `cargo run --release -p taperbook-index --example figures -- 20000 100` makes that many records of its own,
//! indexes them in a directory that it deletes afterwards, saves that many of them again, and prints how long things take.
//! It measures and judges nothing.
#![expect(clippy::print_stdout, reason = "printing is all that this example does")]

use std::time::{Duration, Instant};

use taperbook_index::{Catalogue, Document, Index, Searcher};
use taperbook_plugin::{Number, NumberSet, NumberSpec};
use taperbook_record::{Content, Date, Field, FieldNumber, Record};
use taperbook_units::{Dimension, Interval, Quantity};

/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014).
struct Dice(u64);

impl Dice {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((bits ^ (bits >> 31)) % count.max(1) as u64).unwrap_or(0)
    }

    /// A word whose chance falls as one over its rank.
    fn word(&mut self) -> String {
        let unit = self.below(1 << 30) as f64 / f64::from(1 << 30);
        format!("w{:.0}", (unit * 5000_f64.ln()).exp())
    }
}

struct Made {
    record: Record,
    fields: Vec<Field>,
    body: String,
    numbers: NumberSet,
    flags: Vec<String>,
    blank: Option<String>,
}

const NUMBERS: [(&str, Dimension); 12] = [
    ("length", Dimension::Length),
    ("free_length", Dimension::Length),
    ("tip_od", Dimension::Length),
    ("butt_od", Dimension::Length),
    ("weight", Dimension::Mass),
    ("balance", Dimension::Length),
    ("power", Dimension::Mass),
    ("tip_angle", Dimension::Angle),
    ("bend_centre", Dimension::Fraction),
    ("recovery", Dimension::Frequency),
    ("tip_cut", Dimension::Length),
    ("butt_cut", Dimension::Length),
];

fn catalogue() -> Catalogue {
    let uncut = NUMBERS.map(|(key, dimension)| (format!("uncut_{key}"), dimension));
    let numbers =
        NUMBERS.map(|(key, dimension)| (key.to_owned(), dimension)).into_iter().chain(uncut);
    Catalogue {
        numbers: numbers
            .map(|(key, dimension)| NumberSpec { key, dimension, meaning: String::new() })
            .collect(),
        flags: vec!["below-shortest-length".to_owned()],
    }
}

fn field(key: &str, text: String) -> Field {
    let number = match key {
        "date" => text.parse::<Date>().ok().map(FieldNumber::Date),
        "limits.length" => {
            Interval::parse_as(&text, Dimension::Length).ok().map(FieldNumber::Range)
        }
        "rating" => Quantity::parse_as(&text, Dimension::Count).ok().map(FieldNumber::One),
        _ => Quantity::parse(&text).ok().map(FieldNumber::One),
    };
    Field { key: key.to_owned(), text, number, span: 0..0 }
}

fn make(dice: &mut Dice, number: usize) -> Made {
    let n_words = 60 + dice.below(200);
    let mut body: Vec<String> = (0..n_words).map(|_| dice.word()).collect();
    if dice.below(4) == 0 {
        body.push("quarter".to_owned());
    }
    if number.is_multiple_of(5000) {
        body.push("rarity".to_owned());
    }
    let is_card = number.is_multiple_of(20);
    let title = format!("{} {}", dice.word(), dice.word());
    let id = if is_card { format!("blanks/model-{number}") } else { format!("builds/{number}") };
    let mut fields = Vec::new();
    let mut blank = None;
    if is_card {
        fields.push(field("maker", dice.word()));
        fields.push(field("material", ["carbon", "glass"][dice.below(2)].to_owned()));
        for at in 0..8 {
            fields.push(field("calipers.at", format!("{} in", at * 10)));
            fields.push(field("calipers.od", format!("{}.{} mm", 11 - at, dice.below(10))));
        }
    } else {
        let card = number - number % 20;
        blank = Some(format!("blanks/model-{card}"));
        fields.push(field("blank", format!("model-{card}")));
        fields.push(field("customer", dice.word()));
        fields.push(field("purpose", (0..8).map(|_| dice.word()).collect::<Vec<_>>().join(" ")));
        fields.push(field(
            "date",
            format!(
                "20{}-{:02}-{:02}",
                10 + dice.below(16),
                1 + dice.below(12),
                1 + dice.below(28)
            ),
        ));
        fields.push(field(
            "limits.length",
            format!("{} in .. {} in", 70 + dice.below(8), 80 + dice.below(8)),
        ));
        fields.push(field("rating", (1 + dice.below(5)).to_string()));
        for _ in 0..3 {
            fields.push(field("bench.read.power", format!("{} g", 100 + dice.below(200))));
            fields.push(field("bench.read.tip_od", format!("1.{:02} mm", dice.below(100))));
            fields.push(field("bench.cut.tip", format!("{} in", dice.below(4))));
            fields.push(field(
                "bench.feel",
                (0..6).map(|_| dice.word()).collect::<Vec<_>>().join(" "),
            ));
        }
    }
    let numbers = catalogue()
        .numbers
        .into_iter()
        .map(|spec| (spec.key, Number::exact(dice.below(1 << 20) as f64 / f64::from(1 << 20))))
        .collect();
    let content =
        if is_card { Content::Blank(Box::default()) } else { Content::Build(Box::default()) };
    Made {
        record: Record { id, title, content, conflict_copy: false },
        fields,
        body: body.join(" "),
        numbers: NumberSet::new(numbers),
        flags: if dice.below(50) == 0 {
            vec!["below-shortest-length".to_owned()]
        } else {
            Vec::new()
        },
        blank,
    }
}

impl Made {
    fn document(&self) -> Document<'_> {
        Document {
            record: &self.record,
            fields: &self.fields,
            body: &self.body,
            numbers: &self.numbers,
            flags: &self.flags,
            blank: self.blank.as_deref(),
        }
    }
}

fn resident_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kilobytes| kilobytes / 1024.0)
}

/// Median and worst of some runs.
fn several(runs: usize, mut run: impl FnMut()) -> (Duration, Duration) {
    let mut times: Vec<Duration> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .collect();
    times.sort_unstable();
    (times[runs / 2], times[runs - 1])
}

fn ask(searcher: &Searcher, query: &str) {
    let total = match searcher.parse(query).map(|parsed| searcher.find(&parsed, 20)) {
        Ok(Ok(found)) => found.total,
        other => {
            println!("{query}: {other:?}");
            return;
        }
    };
    let (median, worst) = several(50, || {
        let found = searcher.parse(query).map(|parsed| searcher.find(&parsed, 20));
        std::hint::black_box(found).ok();
    });
    println!("find {query:34} {total:8} hits, median {median:9.1?}, worst {worst:9.1?}");
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut wishes = std::env::args().skip(1).map(|text| text.parse::<usize>());
    let count = wishes.next().transpose()?.unwrap_or(20_000);
    let n_saves = wishes.next().transpose()?.unwrap_or(100);
    let dir = std::env::temp_dir().join(format!("taperbook-figures-{}", std::process::id()));
    let mut dice = Dice(1);
    let made: Vec<Made> = (0..count).map(|number| make(&mut dice, number)).collect();
    println!("{count} records made, resident {:.0} MB", resident_mb().unwrap_or_default());

    let mut index = Index::create(Some(&dir), catalogue())?;
    let start = Instant::now();
    for made in &made {
        index.put(&made.document())?;
    }
    index.commit("")?;
    println!("put and committed in {:.2?}", start.elapsed());
    let start = Instant::now();
    index.settle()?;
    println!("merged after {:.2?} more", start.elapsed());
    let bytes: u64 = std::fs::read_dir(&dir)?
        .filter_map(|entry| entry.ok()?.metadata().ok())
        .map(|data| data.len())
        .sum();
    println!("on disk {:.1} MB", bytes as f64 / 1e6);

    let saved: Vec<Made> =
        (0..n_saves).map(|number| make(&mut dice, (21 + 20 * number) % count)).collect();
    let mut next = saved.iter();
    let (median, worst) = several(n_saves, || {
        if let Some(made) = next.next() {
            let committed = index.put(&made.document()).and_then(|()| index.commit(""));
            std::hint::black_box(committed).ok();
        }
    });
    println!("one record put and committed: median {median:.1?}, worst {worst:.1?}");
    index.settle()?;
    drop((index, made));

    let (median, worst) = several(10, || {
        std::hint::black_box(Index::open(Some(&dir), catalogue()).is_ok());
    });
    println!("opened: median {median:.1?}, worst {worst:.1?}");
    let index = Index::open(Some(&dir), catalogue())?;
    let searcher = index.searcher();
    let start = Instant::now();
    let first = searcher.find(&searcher.parse("rarity")?, 20)?;
    println!("first find of {} rare ones in {:.2?}", first.total, start.elapsed());
    for query in [
        "rarity",
        "quarter",
        "w1",
        "w1 w2 w3",
        "quarter -w1",
        "quarter or w7",
        "\"w1 w2\"",
        "w12*",
        "w*",
        "power<200g",
        "tip_cut:0.5m..0.51m length>0.2m",
        "limits.length<72in",
        "quarter power<200g rating>=4",
        "date:2020",
        "flag:below-shortest-length",
        "blank.material:carbon",
        "customer:w3",
        "",
    ] {
        ask(&searcher, query);
    }
    println!("resident {:.0} MB", resident_mb().unwrap_or_default());
    std::fs::remove_dir_all(&dir)?;
    Ok(())
}
