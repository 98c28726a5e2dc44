//! One build of the demo shop: a piece with a hidden truth on the simulated bench, and the record that the builder writes meanwhile.

mod paper;

use std::fmt::Write as _;

use taperbook_units::{Angle, Length};

use crate::beam::Clamp;
use crate::bench::{Bench, Instruments};
use crate::hand::to_step;
use crate::piece::Piece;
use crate::rng::Rng;

use super::SEED;
use super::model::Model;
use paper::grams;

/// What the builder reads in one go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ask {
    Length,
    TipOd,
    ButtOd,
    Weight,
    Balance,
    Power,
    Angle,
    Frequency,
    /// Points on the board under the weight of about the power.
    Board,
}

/// The first look at a blank.
pub(super) const FIRST: &[Ask] = &[Ask::Length, Ask::TipOd, Ask::Weight, Ask::Power, Ask::Angle];
/// After a cut from the tip.
pub(super) const TIP: &[Ask] = &[Ask::TipOd, Ask::Power];
/// At the end.
pub(super) const LAST: &[Ask] = &[Ask::Length, Ask::TipOd, Ask::Power, Ask::Angle];

/// What may be limited.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Limited {
    Length,
    TipOd,
    ButtOd,
    Power,
}

/// A limit with its ends in inches, millimetres or grams.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limit {
    pub(super) of: Limited,
    pub(super) low: Option<f64>,
    pub(super) high: Option<f64>,
}

/// A build in the making; each step adds to the record what a builder would write.
pub(super) struct Job {
    pub(super) name: &'static str,
    pub(super) piece: Piece,
    pub(super) held_at: Length,
    pub(super) limits: Vec<Limit>,
    /// What was last read of length (m), tip (m) and power (kg) since the last cut.
    pub(super) last: [Option<f64>; 3],
    pub(super) verdict: Option<(&'static str, u8)>,
    /// What is still to come off, in inches; it stands in no record.
    pub(super) still: (f64, f64),
    /// The last plan of the record, in inches.
    pub(super) planned: (f64, f64),
    model: &'static Model,
    head: String,
    states_hold: bool,
    aim: Option<(f64, f64)>,
    bench: String,
    told: Option<&'static str>,
    body: &'static str,
    metric: bool,
    day: Option<&'static str>,
    board: Option<&'static str>,
    rig: Bench,
    /// The length that the last reading and the cuts since then come to, metres.
    by_sums: Option<f64>,
    hurried: bool,
}

impl Job {
    pub(super) fn new(name: &'static str, blank: &'static str) -> Self {
        let model = Model::named(blank);
        // The builder turns the caliper at the tip and takes the middle of what it says.
        let caliper_at_tip = Length::from_mm(0.04);
        let instruments = Instruments { caliper_at_tip, noticed: 1.6, ..Instruments::default() };
        let rig = Bench::new(LONG_WALL, instruments, Rng::named(SEED + 3, name));
        Self {
            name,
            piece: model.piece(name),
            held_at: Length::from_inches(model.held_at()),
            limits: Vec::new(),
            last: [None; 3],
            verdict: None,
            still: (0.0, 0.0),
            planned: (0.0, 0.0),
            model,
            head: String::new(),
            states_hold: false,
            aim: None,
            bench: String::new(),
            told: None,
            body: "",
            metric: false,
            day: None,
            board: None,
            rig,
            by_sums: None,
            hurried: false,
        }
    }

    /// Who it is for, what it is fished with, and when the work began.
    pub(super) fn wanted(mut self, customer: &str, purpose: &str, date: &str) -> Self {
        // Writing to a `String` can't fail.
        let _ = write!(self.head, "customer: {customer}\npurpose: {purpose}\ndate: {date}\n");
        self
    }

    /// A further line of the front matter.
    pub(super) fn also(mut self, line: &str) -> Self {
        let _ = writeln!(self.head, "{line}");
        self
    }

    /// Writes lengths in millimetres from here on.
    pub(super) fn metric(mut self) -> Self {
        self.metric = true;
        self
    }

    /// States where it is held, in inches; the model's own place when it is `None`.
    pub(super) fn held(mut self, inches: Option<f64>) -> Self {
        if let Some(inches) = inches {
            self.held_at = Length::from_inches(inches);
        }
        self.states_hold = true;
        self
    }

    /// Works on the other board from here on.
    pub(super) fn at_the_window(mut self) -> Self {
        self.board = Some("window board");
        self.rig.clamp = WINDOW_BOARD;
        self
    }

    /// Dates the next reading or cut.
    pub(super) fn day(mut self, day: &'static str) -> Self {
        self.day = Some(day);
        self
    }

    /// Reads the piece as it now is.
    pub(super) fn read(mut self, asks: &[Ask]) -> Self {
        let mut parts: Vec<String> = asks.iter().map(|&ask| self.reading(ask)).collect();
        let on_board = [Ask::Power, Ask::Angle, Ask::Board, Ask::Frequency];
        let names_board = !asks.contains(&Ask::Board);
        if names_board && asks.iter().any(|ask| on_board.contains(ask)) {
            parts.extend(self.board.map(|board| format!("board: {board}")));
        }
        self.item("read", parts)
    }

    /// Pulls the tip round to an angle in degrees.
    pub(super) fn pull(mut self, degrees: f64) -> Self {
        let angle = Angle::from_deg(degrees);
        let load = self.rig.read_pull(&self.piece, self.held_at, angle);
        let load = load.expect("a demo blank is no sagging rope");
        let parts = vec![format!("tip_angle: {degrees} deg"), format!("load: {}", grams(load))];
        self.item("pull", parts)
    }

    /// Cuts inches off the tip.
    pub(super) fn tip(self, inches: f64) -> Self {
        self.saw(inches, 0.0, Some("rotary disc"))
    }

    /// Cuts inches off the butt.
    pub(super) fn butt(self, inches: f64) -> Self {
        self.saw(0.0, inches, Some("fine saw"))
    }

    /// Cuts inches off the butt and keeps what came off.
    pub(super) fn butt_kept(mut self, inches: f64) -> Self {
        self = self.butt(inches);
        let at = self.bench.trim_end().len() - " }".len();
        self.bench.insert_str(at, ", keep: yes");
        self
    }

    /// Writes the last line of the bench a second time, as one does after lunch.
    pub(super) fn writes_it_again(mut self) -> Self {
        let line = self.bench.trim_end().lines().next_back().unwrap_or_default().to_owned();
        let _ = writeln!(self.bench, "{line}");
        self
    }

    /// Plans a cut, in inches.
    pub(super) fn plan(mut self, tip: f64, butt: f64) -> Self {
        self.planned = (tip, butt);
        let parts = self.ends(tip, butt);
        self.item("plan", parts)
    }

    /// Says how it feels.
    pub(super) fn feel(mut self, words: &str) -> Self {
        let _ = writeln!(self.bench, "  - feel: {words}");
        self
    }

    /// Settles an end, with the reason.
    pub(super) fn settled(mut self, end: &str, why: &str) -> Self {
        let _ = writeln!(self.bench, "  - settled: {{ {end}: {why} }}");
        self
    }

    /// What is still to come off, in inches: limits and aim are those of a customer who will be content with the outcome.
    pub(super) fn still(mut self, tip: f64, butt: f64) -> Self {
        self.still = (tip, butt);
        self
    }

    /// Allows a length from so many inches below to so many above what it comes to, on whole inches or centimetres.
    pub(super) fn length_around(self, below: f64, above: f64) -> Self {
        let length = self.outcome().length().inches();
        let step = if self.metric { 10.0 / 25.4 } else { 1.0 };
        let low = ((length - below) / step).floor() * step;
        let high = ((length + above) / step).ceil() * step;
        self.length_is(Some(low), Some(high))
    }

    /// Allows a length between ends in inches.
    pub(super) fn length_is(self, low: Option<f64>, high: Option<f64>) -> Self {
        self.limit(Limited::Length, low, high)
    }

    /// Allows a power within a part of what it comes to.
    pub(super) fn power_around(self, part: f64) -> Self {
        let power = self.outcome_power();
        let step = if power < 150.0 { 5.0 } else { 10.0 };
        let low = (power * (1.0 - part) / step).floor() * step;
        let high = (power * (1.0 + part) / step).ceil() * step;
        self.power_is(low, high)
    }

    /// Allows a power between ends in grams.
    pub(super) fn power_is(self, low: f64, high: f64) -> Self {
        self.limit(Limited::Power, Some(low), Some(high))
    }

    /// Allows a power whose upper end the piece has gone past by a part: one cut too many.
    pub(super) fn power_over_by(self, part: f64) -> Self {
        let high = (self.outcome_power() / (1.0 + part) / 5.0).floor() * 5.0;
        self.power_is((0.7 * high / 5.0).round() * 5.0, high)
    }

    /// Allows a length whose lower end the piece has gone past by inches.
    pub(super) fn shortest_missed_by(self, inches: f64) -> Self {
        let low = (self.piece.length().inches() + inches).ceil();
        self.length_is(Some(low), Some(low + 3.0))
    }

    /// Allows a tip up to so many millimetres thicker than it comes to.
    pub(super) fn tip_up_to(self, more: f64) -> Self {
        let most = ((self.outcome().tip_od().mm() + more) * 10.0).ceil() / 10.0;
        self.tip_is_up_to(most)
    }

    /// Allows a tip up to a diameter in millimetres.
    pub(super) fn tip_is_up_to(self, most: f64) -> Self {
        self.limit(Limited::TipOd, None, Some(most))
    }

    /// Allows a butt down to so many millimetres thinner than it comes to.
    pub(super) fn butt_down_to(self, less: f64) -> Self {
        let least = ((self.outcome().butt_od().mm() - less) * 10.0).floor() / 10.0;
        self.limit(Limited::ButtOd, Some(least), None)
    }

    /// Aims so many inches and such a factor of power beside what it comes to.
    pub(super) fn aim(self, inches: f64, factor: f64) -> Self {
        let length = to_step(self.outcome().length().inches(), 0.5) + inches;
        let power = self.outcome_power() * factor;
        let aim = (length, to_step(power, if power < 100.0 { 2.0 } else { 5.0 }));
        self.aim_is(aim.0, aim.1)
    }

    /// Aims at inches of length and grams of power.
    pub(super) fn aim_is(mut self, inches: f64, grams: f64) -> Self {
        self.aim = Some((inches, grams));
        self
    }

    /// What was told to the customer.
    pub(super) fn told(mut self, words: &'static str) -> Self {
        self.told = Some(words);
        self
    }

    /// Types the record with a misspelt key, a comma for a point and a number without its unit.
    pub(super) fn written_in_a_hurry(mut self) -> Self {
        self.hurried = true;
        self
    }

    /// How it ended.
    pub(super) fn ended(mut self, verdict: &'static str, rating: u8) -> Self {
        self.verdict = Some((verdict, rating));
        self
    }

    /// The builder's words under the front matter.
    pub(super) fn body(mut self, words: &'static str) -> Self {
        self.body = words;
        self
    }

    /// The piece when all is cut that is still to be cut.
    pub(super) fn outcome(&self) -> Piece {
        self.piece.after(Length::from_inches(self.still.0), Length::from_inches(self.still.1))
    }

    fn outcome_power(&self) -> f64 {
        self.outcome().power(self.held_at).expect("a demo blank can be read").g()
    }

    fn saw(mut self, tip: f64, butt: f64, with: Option<&str>) -> Self {
        let marked = (Length::from_inches(tip), Length::from_inches(butt));
        self.rig.cut(&mut self.piece, marked.0, marked.1);
        self.by_sums = self.by_sums.map(|sum| sum - (marked.0 + marked.1).m());
        self.last = [None; 3];
        let mut parts = self.ends(tip, butt);
        parts.extend(with.map(|saw| format!("with: {saw}")));
        self.item("cut", parts)
    }

    fn item(mut self, action: &str, mut parts: Vec<String>) -> Self {
        parts.extend(self.day.take().map(|day| format!("date: {day}")));
        let _ = writeln!(self.bench, "  - {action}: {{ {} }}", parts.join(", "));
        self
    }

    fn limit(mut self, of: Limited, low: Option<f64>, high: Option<f64>) -> Self {
        self.limits.push(Limit { of, low, high });
        self
    }
}

/// The long wall's jaws: a shade low at the nose, and oak gives.
const LONG_WALL: Clamp = Clamp { raised: -0.003, give: 0.0007 };
/// The board at the window: steel jaws that point up by a third of a degree, which the shop has measured.
const WINDOW_BOARD: Clamp = Clamp { raised: 0.0055, give: 0.0003 };
