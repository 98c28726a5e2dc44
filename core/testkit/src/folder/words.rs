//! Words and sentences of the generated records, common and rare.
//!
//! The common ones are those of a rod builder's bench; the rare ones are put together from syllables, so that they name no place and nobody.

use std::fmt::Write as _;

use crate::rng::Rng;

/// First names, with the spelling that a file name has.
pub(super) const CUSTOMERS: [(&str, &str); 36] = [
    ("Anders", "anders"),
    ("Birte", "birte"),
    ("Caspar", "caspar"),
    ("Dagny", "dagny"),
    ("Edda", "edda"),
    ("Frieda", "frieda"),
    ("Greta", "greta"),
    ("Henrik", "henrik"),
    ("Inés", "ines"),
    ("Jörg", "jorg"),
    ("Kaja", "kaja"),
    ("Lars", "lars"),
    ("Maren", "maren"),
    ("Noëlle", "noelle"),
    ("Ole", "ole"),
    ("Petra", "petra"),
    ("Quirin", "quirin"),
    ("Renée", "renee"),
    ("Søren", "soren"),
    ("Tomas", "tomas"),
    ("Ulrik", "ulrik"),
    ("Vera", "vera"),
    ("Wanda", "wanda"),
    ("Yngve", "yngve"),
    ("Zoë", "zoe"),
    ("Åse", "ase"),
    ("Łukasz", "lukasz"),
    ("André", "andre"),
    ("Björn", "bjorn"),
    ("Chloé", "chloe"),
    ("Émile", "emile"),
    ("Hélène", "helene"),
    ("José", "jose"),
    ("Märta", "marta"),
    ("Øystein", "oystein"),
    ("Renāte", "renate"),
];

const LURES: [&str; 14] = [
    "small spoons",
    "spinners",
    "heavy jigs",
    "rubber on light heads",
    "wobblers",
    "floats",
    "bread crust",
    "pirks",
    "plugs",
    "worms",
    "tiny jigs",
    "herring rigs",
    "poppers",
    "blades",
];
const FISH: [&str; 16] = [
    "sea trout",
    "perch",
    "pike",
    "zander",
    "brown trout",
    "cod",
    "pollack",
    "bass",
    "grayling",
    "chub",
    "carp",
    "tench",
    "salmon",
    "garfish",
    "coalfish",
    "roach",
];
const WATERS: [&str; 12] = [
    "the rocks at",
    "the mole of",
    "the lake by",
    "the canals of",
    "the beck above",
    "a boat off",
    "the estuary at",
    "the gravel pits near",
    "the harbour of",
    "the weir at",
    "the beach of",
    "the reeds by",
];
const PARTS: [&str; 16] = [
    "tip",
    "butt",
    "blank",
    "wall",
    "splice",
    "ferrule",
    "spine",
    "handle",
    "reel seat",
    "guide",
    "tip-top",
    "winding",
    "lacquer",
    "cork",
    "joint",
    "grip",
];
const DID: [&str; 16] = [
    "cut",
    "measured",
    "taped",
    "bent",
    "weighed",
    "turned",
    "sanded",
    "checked",
    "wound",
    "glued",
    "marked",
    "sawed",
    "dressed",
    "straightened",
    "cleaned",
    "warmed",
];
const HOW: [&str; 14] = [
    "once more",
    "in two steps",
    "by daylight",
    "with the fine saw",
    "on the long board",
    "after lunch",
    "against my better judgement",
    "as planned",
    "slowly",
    "with cold hands",
    "twice",
    "half an inch at a time",
    "before the customer came",
    "and wrote it down",
];
const SAYS: [&str; 16] = [
    "stiff", "soft", "quick", "slow", "lively", "dead", "crisp", "sweet", "heavy", "light",
    "round", "honest", "nervous", "quiet", "brisk", "stubborn",
];
const BECAUSE: [&str; 12] = [
    "because the guide spacing was wrong",
    "since the diameter must fit the fitting",
    "because the load was already right",
    "as the wall is thin there",
    "since an inch more can come off later",
    "because the board said so",
    "as he throws with his left hand",
    "since the boat has a low roof",
    "because the first cut was too bold",
    "as the maker changed something",
    "since the length must clear the rail",
    "because nobody asked before",
];
const ONSETS: [&str; 24] = [
    "b", "br", "d", "f", "fl", "g", "gr", "h", "k", "kr", "l", "m", "n", "p", "r", "s", "sk", "st",
    "t", "tr", "v", "w", "th", "sl",
];
const VOWELS: [&str; 14] = ["a", "e", "i", "o", "u", "a", "e", "o", "ei", "ou", "é", "ø", "å", "ü"];
const ENDS: [&str; 16] =
    ["n", "r", "l", "m", "rn", "ld", "nd", "sk", "st", "th", "ck", "rt", "ll", "x", "ng", "v"];
const PLACES: [&str; 10] =
    ["by", "haven", "wick", "ness", "mouth", "ford", "holm", "stead", "ey", "dale"];

/// How many made-up words there are.
const N_RARE: usize = 6000;

pub(super) struct Words {
    rare: Vec<String>,
}

impl Words {
    pub(super) fn new() -> Self {
        let mut rng = Rng::new(1);
        let rare = (0..N_RARE).map(|_| syllables(&mut rng)).collect();
        Self { rare }
    }

    /// A word that nobody knows, often or seldom used.
    fn rare(&self, rng: &mut Rng) -> &str {
        &self.rare[rng.zipf(self.rare.len())]
    }

    fn place(&self, rng: &mut Rng) -> String {
        let rank = rng.zipf(self.rare.len());
        capital(&self.rare[rank]) + PLACES[rank % PLACES.len()]
    }

    pub(super) fn maker(&self, rng: &mut Rng) -> String {
        capital(&self.rare[rng.below(60)])
    }

    pub(super) fn purpose(&self, rng: &mut Rng) -> String {
        let (lure, fish, water) = (often(&LURES, rng), often(&FISH, rng), often(&WATERS, rng));
        format!("{lure} for {fish} from {water} {}", self.place(rng))
    }

    pub(super) fn feel(&self, rng: &mut Rng) -> String {
        let (one, other) = (often(&SAYS, rng), often(&SAYS, rng));
        match rng.below(3) {
            0 => format!("{one} in the {} and a little {other} below", often(&PARTS, rng)),
            1 => format!("{one}, nearly {other}"),
            _ => format!("more {one} than {other} now, good for {}", often(&LURES, rng)),
        }
    }

    pub(super) fn title(&self, rng: &mut Rng) -> String {
        let (part, says) = (often(&PARTS, rng), often(&SAYS, rng));
        match rng.below(3) {
            0 => format!("The {says} {part} from {}", self.place(rng)),
            1 => format!("About the {part} and {}", often(&FISH, rng)),
            _ => format!("{} and the {part}", capital(self.rare(rng))),
        }
    }

    pub(super) fn note(&self, title: &str, rng: &mut Rng) -> String {
        let mut text = format!("# {title}\n");
        for _ in 0..=rng.below(3) {
            let sentences = 2 + rng.below(4);
            let _ = write!(text, "\n{}", self.paragraph(sentences, rng));
        }
        if rng.chance(0.3) {
            text.push('\n');
            for _ in 0..3 {
                let _ = writeln!(text, "- {}", self.sentence(rng));
            }
        }
        text
    }

    /// A few sentences, one a line.
    pub(super) fn paragraph(&self, sentences: usize, rng: &mut Rng) -> String {
        let mut text = String::new();
        for _ in 0..sentences {
            text.push_str(&self.sentence(rng));
            text.push('\n');
        }
        text
    }

    fn sentence(&self, rng: &mut Rng) -> String {
        let (part, did, how) = (often(&PARTS, rng), often(&DID, rng), often(&HOW, rng));
        let says = often(&SAYS, rng);
        match rng.below(8) {
            0 => format!("I {did} the {part} {how}, {}.", often(&BECAUSE, rng)),
            1 => format!("The {part} is {says} and stays that way, {}.", often(&BECAUSE, rng)),
            2 => {
                let customer = rng.pick(&CUSTOMERS).0;
                format!(
                    "{customer} from {} says it is too {says} for {}.",
                    self.place(rng),
                    often(&FISH, rng)
                )
            }
            3 => format!(
                "With {} it feels {says}, with {} it does not.",
                often(&LURES, rng),
                often(&LURES, rng)
            ),
            4 => format!(
                "Next time the {part} gets {did} {how}, not before the {} is done.",
                often(&PARTS, rng)
            ),
            5 => {
                format!("What they call {} here is a {says} {part}, nothing else.", self.rare(rng))
            }
            6 => format!(
                "For {} at {} I would leave the {part} alone.",
                often(&FISH, rng),
                self.place(rng)
            ),
            _ => format!(
                "It was {did} {how} and it came out {says} at the {part}; {} would have laughed.",
                rng.pick(&CUSTOMERS).0
            ),
        }
    }
}

/// Picks from the front of a list more often than from its end.
fn often<'a>(list: &[&'a str], rng: &mut Rng) -> &'a str {
    list[rng.zipf(list.len())]
}

fn syllables(rng: &mut Rng) -> String {
    let mut word = String::new();
    for _ in 0..=rng.below(2) {
        word.push_str(often(&ONSETS, rng));
        word.push_str(often(&VOWELS, rng));
    }
    word + often(&ENDS, rng)
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters.flat_map(char::to_lowercase)).collect()
    })
}

/// A title as a file name: its letters in lower case, accents kept, a dash for all else.
pub(super) fn file_name(title: &str) -> String {
    let name: String =
        title.to_lowercase().chars().map(|c| if c.is_alphabetic() { c } else { '-' }).collect();
    name.trim_matches('-').to_owned()
}
