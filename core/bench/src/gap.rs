//! Lengths that don't add up: a length that was read against what the cuts give, and the likeliest mistake behind it.
//!
//! It finds and explains; that a gap is a fault is for a plugin to say.

use taperbook_record::{Action, Build, Cut, Span};
use taperbook_units::{Length, Units};

use crate::walk::{MAKERS_WORD, WORTH_A_WORD, bare_length};

/// A length reading that differs from what the cuts give.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthGap {
    /// The item of the bench that holds the reading.
    pub item: usize,
    /// Where the length stands.
    pub span: Span,
    /// What was read.
    pub read: Length,
    /// What the length known before and the cuts since give.
    pub expected: Length,
    /// The item of the bench with the length known before; `None` for what the card states.
    pub known_from: Option<usize>,
    /// What is the likeliest reason, in words.
    pub likely: String,
}

/// Finds the length readings that are more than 3 mm from what the cuts give.
///
/// A maker's stated length is no measurement: against `card_length`, only a gap that is no longer the maker's counts.
/// `kerf` is what a saw of the shop turns to dust.
pub fn length_gaps(
    build: &Build,
    card_length: Option<Length>,
    kerf: Option<Length>,
    units: Units,
) -> Vec<LengthGap> {
    let mut gaps: Vec<LengthGap> = Vec::new();
    let mut known = card_length.map(|length| Known { item: None, length, gap: None });
    let mut cuts: Vec<Sawn> = Vec::new();
    for (item_idx, item) in build.bench.iter().enumerate() {
        match &item.action {
            Action::Cut(cut) if cut.unread => {
                known = None;
                cuts.clear();
            }
            Action::Cut(cut) => cuts.push(Sawn::new(item_idx, cut)),
            Action::Read(reading) => {
                let (Some(read), Some(length)) = (bare_length(reading), &reading.length) else {
                    continue;
                };
                let mut gap = None;
                if let Some(from) = &known {
                    let expected =
                        cuts.iter().fold(from.length, |length, cut| length - cut.total());
                    let off = read - expected;
                    // Before any cut it is no matter of cuts that a piece is not as long as its card says.
                    let worth = match from.item {
                        Some(_) => WORTH_A_WORD,
                        None if cuts.is_empty() => Length::from_m(f64::INFINITY),
                        None => MAKERS_WORD,
                    };
                    // A reading that is right again shows that the one before it was wrong.
                    let undone =
                        from.gap.is_some_and(|before| (before + off).abs() <= WORTH_A_WORD);
                    if let (true, Some(last)) = (undone, gaps.last_mut()) {
                        last.likely = format!(
                            "it is likely misread, because the length in item {} fits the one before it",
                            item_idx + 1
                        );
                    } else if worth < off.abs() {
                        gap = Some(off);
                        gaps.push(LengthGap {
                            item: item_idx,
                            span: length.span.clone(),
                            read,
                            expected,
                            known_from: from.item,
                            likely: likely(off, &cuts, kerf, units),
                        });
                    }
                }
                known = Some(Known { item: Some(item_idx), length: read, gap });
                cuts.clear();
            }
            _ => {}
        }
    }
    gaps
}

/// A length that is known otherwise than from cuts.
struct Known {
    item: Option<usize>,
    length: Length,
    /// By how much it was off itself.
    gap: Option<Length>,
}

/// A cut of the bench.
struct Sawn {
    item: usize,
    tip: Length,
    butt: Length,
}

impl Sawn {
    fn new(item: usize, cut: &Cut) -> Self {
        let [tip, butt] =
            [&cut.tip, &cut.butt].map(|end| end.as_ref().map(|cut| cut.value).unwrap_or_default());
        Self { item, tip, butt }
    }

    fn total(&self) -> Length {
        self.tip + self.butt
    }

    /// What came off each end, and off both together.
    fn amounts(&self) -> impl Iterator<Item = Amount> {
        let none = Length::default();
        let ends = [("tip ", self.tip), ("butt ", self.butt), ("", self.total())];
        let n_wanted = if none < self.tip && none < self.butt { 3 } else { 2 };
        ends.into_iter()
            .take(n_wanted)
            .filter(move |(_, length)| none < *length)
            .map(|(end, length)| Amount { item: self.item, end, length })
    }
}

/// A length that was sawn off, and where.
struct Amount {
    item: usize,
    end: &'static str,
    length: Length,
}

impl Amount {
    fn words(&self, units: Units) -> String {
        format!("the {}cut of {}", self.end, units.cut(self.length))
    }

    fn is_again(&self, other: &Self) -> bool {
        let apart = (self.length - other.length).abs();
        self.item != other.item && self.end == other.end && apart <= Length::from_mm(0.5)
    }
}

/// Two mistakes that fit a gap this nearly alike are told apart by how common they are, not by the tape.
const TAPE: Length = Length::from_mm(1.5);

/// A gap up to this may be no mistake at all: tape and saw are good to a millimetre or two.
const SMALL: Length = Length::from_mm(6.0);

/// Says which mistake fits a gap best; a positive one means that the blank is longer than the cuts say.
fn likely(gap: Length, cuts: &[Sawn], kerf: Option<Length>, units: Units) -> String {
    let amounts: Vec<Amount> = cuts.iter().flat_map(Sawn::amounts).collect();
    let mistakes = if Length::default() < gap {
        too_long(&amounts, units)
    } else {
        let n_sawn = amounts.iter().filter(|amount| !amount.end.is_empty()).count();
        let dust = kerf.map(|kerf| kerf * n_sawn as f64);
        too_short(&amounts, dust.filter(|dust| (gap.abs() - *dust).abs() <= TAPE), units)
    };
    let miss = |mistake: &Mistake| (gap.abs() - mistake.gap).abs();
    let best = mistakes
        .into_iter()
        .filter(|mistake| miss(mistake) <= WORTH_A_WORD)
        .min_by_key(|mistake| TAPE < miss(mistake));
    match best {
        Some(mistake) => mistake.words,
        None if gap.abs() <= SMALL => {
            "that little is likely the tape, or a saw that left its mark: measure again".to_owned()
        }
        None if cuts.is_empty() && Length::default() < gap => {
            "no cut was logged between the two readings: one of them is likely misread".to_owned()
        }
        None if cuts.is_empty() => format!(
            "no cut was logged between the two readings: a cut of about {} is likely missing",
            units.cut(gap.abs())
        ),
        None if Length::default() < gap => {
            format!("the cuts logged since are likely {} too much in all", units.cut(gap.abs()))
        }
        None => format!("a cut of about {} is likely missing", units.cut(gap.abs())),
    }
}

/// A mistake and the gap, without its sign, that it would make.
struct Mistake {
    gap: Length,
    words: String,
}

/// The mistakes that leave a blank longer than its record says, the commonest first.
fn too_long(amounts: &[Amount], units: Units) -> Vec<Mistake> {
    let mut mistakes = Vec::new();
    for (at, amount) in amounts.iter().enumerate() {
        if let Some(before) = amounts[..at].iter().find(|before| before.is_again(amount)) {
            let (words, items) = (amount.words(units), [before.item + 1, amount.item + 1]);
            let words =
                format!("{words} is likely logged twice, in items {} and {}", items[0], items[1]);
            mistakes.push(Mistake { gap: amount.length, words });
        }
    }
    for amount in amounts {
        let (words, item) = (amount.words(units), amount.item + 1);
        let words = format!("{words} in item {item} is likely logged but not made");
        mistakes.push(Mistake { gap: amount.length, words });
    }
    for amount in amounts {
        let inches = amount.length.inches().round();
        if (amount.length.inches() - inches).abs() < 1e-6 {
            let gap = amount.length - Length::from_mm(inches);
            let (words, item) = (amount.words(units), amount.item + 1);
            let words = format!("{words} in item {item} was likely {inches:.0} mm");
            mistakes.push(Mistake { gap, words });
        }
    }
    mistakes.extend(of_the_tape());
    mistakes
}

/// The mistakes that leave a blank shorter than its record says, the commonest first.
fn too_short(amounts: &[Amount], dust: Option<Length>, units: Units) -> Vec<Mistake> {
    let mut mistakes = Vec::new();
    if let Some(gap) = dust {
        let words = "the kerf is likely left out: a cut is the whole length lost".to_owned();
        mistakes.push(Mistake { gap, words });
    }
    for amount in amounts {
        let millimetres = amount.length.mm().round();
        if (amount.length.mm() - millimetres).abs() < 1e-6 {
            let gap = Length::from_inches(millimetres) - amount.length;
            let (words, item) = (amount.words(Units::Millimetres), amount.item + 1);
            let words = format!("{words} in item {item} was likely {millimetres:.0} in");
            mistakes.push(Mistake { gap, words });
        }
    }
    for amount in amounts {
        let words = format!("a second {}", amount.words(units).trim_start_matches("the "));
        let words =
            format!("{words}, as in item {}, is likely made but not logged", amount.item + 1);
        mistakes.push(Mistake { gap: amount.length, words });
    }
    mistakes.extend(of_the_tape());
    mistakes
}

/// Misreadings of the tape that happen: an inch, and a foot.
fn of_the_tape() -> [Mistake; 2] {
    [(1.0, "an inch"), (12.0, "a foot")].map(|(inches, words)| Mistake {
        gap: Length::from_inches(inches),
        words: format!("the tape is likely misread by {words}"),
    })
}
