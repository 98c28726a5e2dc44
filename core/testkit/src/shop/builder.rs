//! The builder at his bench: he reads, writes the record, does what he is told, and answers what he is asked as far as his shop can.

use std::fmt::Write as _;

use taperbook_units::{Angle, Length, Mass};

use super::stage::{self, Stage};
use super::{Advice, Adviser, Foretold, HELD_AT, Job, Log, Reads, judge};
use crate::bench::Bench;
use crate::piece::Piece;

const RECORD: &str = "builds/now";

/// How far off the mean of a small level is, or of a phone, that was turned end for end (common practice, no source).
pub(crate) fn level_error() -> Angle {
    Angle::from_deg(0.1)
}

/// How far off the difference of two readings of one level is (common practice, no source).
pub(crate) fn turn_error() -> Angle {
    Angle::from_deg(0.1)
}

/// A builder with a piece in hand.
pub(crate) struct Builder {
    stage: Stage,
    /// The items of the bench.
    items: Vec<String>,
    n_cuts: usize,
    n_sawn: usize,
    n_readings: usize,
    /// The tilt of the board, once it was measured.
    tilt: Option<Angle>,
    /// What its clamp gives, likewise.
    gives: Option<Angle>,
    /// What was read since the last cut on being asked, so that nothing but power is read twice.
    answered: Vec<&'static str>,
}

/// What is read at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Readings {
    pub(crate) length: bool,
    /// Tip diameter and weight.
    pub(crate) ends: bool,
    pub(crate) power: bool,
    /// With the power.
    pub(crate) angle: bool,
}

/// Takes readings; gives them as an item of the bench.
pub(crate) fn read(bench: &mut Bench, piece: &Piece, what: Readings) -> String {
    let mut all = Vec::new();
    if what.length {
        all.push(format!("length: {:.0} mm", bench.read_length(piece).mm()));
    }
    if what.power {
        all.push(format!("power: {:.1} g", power(bench, piece)));
    }
    if what.angle {
        all.push(format!("tip_angle: {:.0} deg", tip_angle(bench, piece)));
    }
    if what.ends {
        all.push(format!("tip_od: {:.2} mm", bench.read_tip_od(piece).mm()));
        all.push(format!("weight: {:.1} g", bench.read_weight(piece).g()));
    }
    format!("read: {{ {} }}", all.join(", "))
}

impl Builder {
    /// Opens the shop, and writes down what the customer wants and what a tape, a caliper and a scale say of the piece.
    pub(crate) fn start(mut stage: Stage, adviser: &mut dyn Adviser) -> Self {
        for (path, text) in &stage.files {
            adviser.write(path, text);
        }
        let first = read(
            &mut stage.bench,
            &stage.piece,
            Readings { length: true, ends: true, ..Readings::default() },
        );
        let builder = Self {
            stage,
            items: vec![first],
            n_cuts: 0,
            n_sawn: 0,
            n_readings: 2,
            tilt: None,
            gives: None,
            answered: Vec::new(),
        };
        adviser.write(&format!("{RECORD}.md"), &builder.text());
        builder
    }

    pub(crate) fn ask(&self, adviser: &mut dyn Adviser) -> Advice {
        adviser.ask(RECORD)
    }

    /// Notes how what is foretold stands to the truth.
    pub(crate) fn compare(&self, advice: &Advice, job: &mut Job) {
        let [tip, butt] = advice.next_cut.unwrap_or_default().map(Length::from_mm);
        let (Some(power), Some(length)) = (advice.power, advice.length) else { return };
        let Some(true_power) = stage::true_power(&self.stage.piece, tip, butt) else { return };
        let true_length = (self.stage.piece.length() - tip - butt).m();
        let holds = |[_, low, high]: [f64; 3], truth: f64| low <= truth && truth <= high;
        let off = (true_power.kg() / power[0]).ln();
        if !self.items.iter().any(|item| item.contains("power")) {
            job.before_power = Some([off, self.stage.off_model]);
            return;
        }
        job.foretold.push(Foretold {
            power_in_range: holds(power, true_power.kg()),
            power_off: off,
            power_range: 0.5 * (power[2] / power[1]).ln(),
            length_in_range: holds(length, true_length),
        });
    }

    /// Cuts, writes it down, and reads what comes of it.
    pub(crate) fn cut(&mut self, tip: Length, butt: Length, adviser: &mut dyn Adviser) {
        let Stage { bench, piece, setting, rng, .. } = &mut self.stage;
        bench.cut(piece, tip, butt);
        let ends =
            [("tip", tip), ("butt", butt)].into_iter().filter(|(_, cut)| Length::default() < *cut);
        let ends: Vec<String> =
            ends.map(|(end, cut)| format!("{end}: {:.1} mm", cut.mm())).collect();
        self.n_cuts += 1;
        self.n_sawn += ends.len();
        let is_hasty = setting.log == Log::Hasty;
        let n_times = if is_hasty && rng.chance(0.25) { 2 } else { 1 };
        for _ in 0..n_times {
            self.items.push(format!("cut: {{ {} }}", ends.join(", ")));
        }
        let length = !(is_hasty && rng.chance(1.0 / 3.0));
        let what = Readings { length, power: true, ..Readings::of(setting.reads) };
        self.items.push(read(bench, piece, what));
        self.n_readings += 1 + usize::from(what.angle);
        self.answered.clear();
        self.save(adviser);
    }

    /// Answers what he is asked, if his shop can and he has not done so yet.
    pub(crate) fn answer(&mut self, what: &str, adviser: &mut dyn Adviser) -> bool {
        if what.contains("logged twice") {
            return self.strike_out_a_cut(adviser);
        }
        if what.starts_with("tilt of the board") || what.starts_with("give of the board") {
            return self.measure_the_clamp(what, adviser);
        }
        let Stage { bench, piece, setting, .. } = &mut self.stage;
        let has_more = setting.reads == Reads::Asked;
        let angle = setting.reads != Reads::Power;
        let can = "it can be read";
        let (name, reading) = match what {
            _ if what.starts_with("power") => {
                let what = Readings { power: true, ..Readings::of(setting.reads) };
                self.n_readings += usize::from(what.angle);
                ("power", read(bench, piece, what))
            }
            _ if what.starts_with("length") => {
                ("length", read(bench, piece, Readings { length: true, ..Readings::default() }))
            }
            _ if what.starts_with("tip angle") && angle => {
                ("tip angle", format!("read: {{ tip_angle: {:.0} deg }}", tip_angle(bench, piece)))
            }
            _ if what.starts_with("frequency") && has_more => {
                let frequency = bench.read_frequency(piece, HELD_AT).expect(can).hz();
                ("frequency", format!("read: {{ frequency: {frequency:.2} Hz }}"))
            }
            _ if what.starts_with("board points") && has_more => ("board", board(bench, piece)),
            _ if what.starts_with("weight") => {
                ("weight", format!("read: {{ weight: {:.1} g }}", bench.read_weight(piece).g()))
            }
            _ if what.starts_with("balance") => (
                "balance",
                format!("read: {{ balance: {:.0} mm }}", bench.read_balance(piece).mm()),
            ),
            _ if what.starts_with("tip diameter") => {
                ("tip", format!("read: {{ tip_od: {:.2} mm }}", bench.read_tip_od(piece).mm()))
            }
            _ if what.starts_with("butt diameter") => {
                ("butt", format!("read: {{ butt_od: {:.2} mm }}", bench.read_butt_od(piece).mm()))
            }
            _ => return false,
        };
        // What was read once says the same again; only clamping anew says something new.
        if name != "power" && name != "length" && self.answered.contains(&name) {
            return false;
        }
        self.answered.push(name);
        self.n_readings += usize::from(name != "length");
        self.items.push(reading);
        self.save(adviser);
        true
    }

    /// Reads power, and what goes with it, unasked.
    pub(crate) fn read_power(&mut self, adviser: &mut dyn Adviser) {
        self.answer("power", adviser);
    }

    /// Judges the job by the piece's truth.
    pub(crate) fn finish(self, job: &mut Job) {
        job.n_cuts = self.n_cuts;
        job.n_sawn = self.n_sawn;
        job.n_readings = self.n_readings;
        job.record = self.text();
        super::judge(job, &self.stage.piece, &self.stage.wanted);
    }

    /// Puts a level on the clamp, and hangs a weight a metre out on a bar, as he is asked, each once.
    fn measure_the_clamp(&mut self, what: &str, adviser: &mut dyn Adviser) -> bool {
        let bench = &mut self.stage.bench;
        let n_before = self.n_readings;
        if what.contains("tilt of the board") && self.tilt.is_none() {
            self.tilt = Some(bench.read_tilt(level_error()));
            self.n_readings += 1;
        }
        if what.contains("give of the board") && self.gives.is_none() {
            self.gives = Some(bench.read_give(turn_error()));
            self.n_readings += 1;
        }
        let is_new = n_before < self.n_readings;
        if is_new {
            adviser.write("shop.yaml", &stage::shop(self.tilt, self.gives));
        }
        is_new
    }

    /// Takes out the second of two equal cuts.
    fn strike_out_a_cut(&mut self, adviser: &mut dyn Adviser) -> bool {
        let twice = |idx: &usize| {
            self.items[*idx].starts_with("cut") && self.items[*idx] == self.items[idx - 1]
        };
        let Some(idx) = (1..self.items.len()).rev().find(twice) else { return false };
        self.items.remove(idx);
        self.save(adviser);
        true
    }

    fn save(&self, adviser: &mut dyn Adviser) {
        adviser.write(&format!("{RECORD}.md"), &self.text());
    }

    fn text(&self) -> String {
        let wanted = &self.stage.wanted;
        let mut text = format!(
            "---\nkind: build\nblank: model\nheld_at: 9 in\n\
             limits: {{ length: {:.0} mm .. {:.0} mm, power: {:.1} g .. {:.1} g }}\n\
             aim: {{ length: {:.0} mm, power: {:.1} g }}\nbench:\n",
            wanted.shortest().mm(),
            wanted.longest().mm(),
            wanted.least_power().g(),
            wanted.most_power().g(),
            wanted.length.mm(),
            wanted.power.g()
        );
        for item in &self.items {
            let _ = writeln!(text, "  - {item}");
        }
        text + "---\n"
    }
}

fn power(bench: &mut Bench, piece: &Piece) -> f64 {
    bench.read_power(piece, HELD_AT).expect("it can be read").g()
}

fn tip_angle(bench: &mut Bench, piece: &Piece) -> f64 {
    bench.read_tip_angle(piece, HELD_AT).expect("it can be read").deg()
}

/// Five places along the blank under half, once and one and a half times its power.
fn board(bench: &mut Bench, piece: &Piece) -> String {
    let power = judge::power(piece);
    let free = piece.length() - HELD_AT;
    let loads = [0.5, 1.0, 1.5].map(|times| {
        let load = Mass::from_g((power.g() * times).round());
        let outward: Vec<Length> = (1..=5).map(|part| free * (0.16 * f64::from(part))).collect();
        let points = bench.read_board(piece, HELD_AT, load, &outward).expect("it can be read");
        let points: Vec<String> =
            points.iter().map(|(x, y)| format!("[{:.0} mm, {:.0} mm]", x.mm(), y.mm())).collect();
        format!("{{ load: {:.0} g, points: [{}] }}", load.g(), points.join(", "))
    });
    format!("read: {{ board: [{}] }}", loads.join(", "))
}
