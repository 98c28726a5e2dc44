//! What is there before a job begins: the model, its card, the past builds, the bench, and what the customer wants.

use std::fmt::Write as _;

use taperbook_units::{Angle, Length, Mass};

use super::builder::{Readings, read};
use super::{HELD_AT, Limits, Log, Reads, Setting, judge};
use crate::beam::Clamp;
use crate::bench::{Bench, Instruments};
use crate::piece::Piece;
use crate::rng::Rng;
use crate::style::Style;
use crate::truth::{Spread, Truth};

/// A shop before a job.
pub(crate) struct Stage {
    pub(crate) setting: Setting,
    pub(crate) bench: Bench,
    /// The piece to be cut.
    pub(crate) piece: Piece,
    /// How far it lies from the middle of its model: ln of its power over theirs.
    pub(crate) off_model: f64,
    pub(crate) wanted: Wanted,
    /// The files of the shop folder, by path.
    pub(crate) files: Vec<(String, String)>,
    /// For what the builder decides by chance.
    pub(crate) rng: Rng,
}

/// What the customer wants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Wanted {
    pub(crate) length: Length,
    pub(crate) power: Mass,
    pub(crate) limits: Limits,
}

impl Wanted {
    pub(crate) fn shortest(&self) -> Length {
        self.length - self.limits.length
    }

    pub(crate) fn longest(&self) -> Length {
        self.length + self.limits.length
    }

    pub(crate) fn least_power(&self) -> Mass {
        self.power * (1.0 - self.limits.power)
    }

    pub(crate) fn most_power(&self) -> Mass {
        self.power * (1.0 + self.limits.power)
    }

    /// Whether a length and a power are inside.
    pub(crate) fn holds(&self, length: Length, power: Mass) -> bool {
        self.shortest() <= length
            && length <= self.longest()
            && self.least_power() <= power
            && power <= self.most_power()
    }
}

impl Stage {
    pub(crate) fn new(setting: Setting, seed: u64) -> Self {
        let mut rng = Rng::named(seed, "a job");
        let style = *rng.pick(&Style::ALL);
        let model = Truth::random(&mut rng, style).with_reinforcement(&mut rng);
        let clamp = Clamp::random(&mut rng);
        let instruments = Instruments { slip_chance: 0.05, ..Instruments::default() };
        let mut bench = Bench::new(clamp, instruments, Rng::new(rng.bits()));
        let sibling = |rng: &mut Rng| Piece::uncut(model.sibling(rng, &Spread::default()));
        let mut files = vec![
            ("shop.yaml".to_owned(), shop(None, None)),
            ("blanks/model.md".to_owned(), card(&mut bench, &sibling(&mut rng), style)),
        ];
        for past_idx in 0..setting.n_past {
            let piece = sibling(&mut rng);
            let text = past_build(&mut bench, piece, &mut rng, setting);
            files.push((format!("builds/past-{past_idx:02}.md"), text));
        }
        let piece = sibling(&mut rng);
        let off_model = off_model(&piece, &model);
        // The customer has held a rod that this blank can become.
        let rod = piece.after(
            Length::from_mm(rng.between(15.0, 60.0).round()),
            Length::from_mm(rng.between(0.0, 90.0).round()),
        );
        let wanted = Wanted {
            length: Length::from_mm(rod.length().mm().round()),
            power: Mass::from_g((judge::power(&rod).g() * 10.0).round() / 10.0),
            limits: setting.limits,
        };
        Self { setting, bench, piece, off_model, wanted, files, rng }
    }
}

/// `shop.yaml`, with the tilt of the board and what its clamp gives once they were measured.
pub(crate) fn shop(tilt: Option<Angle>, gives: Option<Angle>) -> String {
    let tilt = tilt.map_or_else(String::new, |tilt| format!(", tilt: {:.2} deg", tilt.deg()));
    let gives = gives.map_or_else(String::new, |gives| {
        format!("clamps: {{ jaws: {{ gives: {:.2} deg }} }}\n", gives.deg())
    });
    format!(
        "name: simulated\nunits: millimetres\nheld_at: 9 in\nboards: {{ wall: {{ clamp: jaws{tilt} }} }}\n{gives}"
    )
}

/// ln of a piece's power over the one that all pieces of its model lie around.
fn off_model(piece: &Piece, model: &Truth) -> f64 {
    let ln_power = |piece: &Piece| judge::power(piece).kg().ln();
    ln_power(piece) - ln_power(&Piece::uncut(model.clone()))
}

/// A blank card, measured on one piece of the model as a builder does: nine diameters, and the wall at both ends.
fn card(bench: &mut Bench, piece: &Piece, style: Style) -> String {
    let length = piece.length();
    let mut text = format!(
        "---\nkind: blank\nlength: {:.0} mm\nmaterial: {}\ncalipers:\n",
        bench.read_length(piece).mm(),
        style.material()
    );
    for place_idx in 0..=8 {
        let place = length * (f64::from(place_idx) / 8.0);
        let od = bench.read_od(piece, place).mm();
        let wall = match place_idx % 8 {
            0 => format!(", wall: {:.2} mm", bench.read_wall(piece, place).mm()),
            _ => String::new(),
        };
        let _ = writeln!(text, "  - {{ at: {:.0} mm, od: {od:.2} mm{wall} }}", place.mm().floor());
    }
    text + "---\n"
}

/// A build that was finished: cut at the tip, then at the butt, and read in between.
fn past_build(bench: &mut Bench, mut piece: Piece, rng: &mut Rng, setting: Setting) -> String {
    let mut items = vec![read(
        bench,
        &piece,
        Readings { length: true, ends: true, power: true, ..Readings::of(setting.reads) },
    )];
    for end in ["tip", "butt"] {
        let cut = Length::from_mm(rng.between(20.0, 60.0).round());
        let none = Length::default();
        let (tip, butt) = if end == "tip" { (cut, none) } else { (none, cut) };
        bench.cut(&mut piece, tip, butt);
        let n_times = if setting.log == Log::Hasty && rng.chance(0.25) { 2 } else { 1 };
        items.extend((0..n_times).map(|_| format!("cut: {{ {end}: {:.0} mm }}", cut.mm())));
        items.push(read(
            bench,
            &piece,
            Readings { length: true, power: true, ..Readings::of(setting.reads) },
        ));
    }
    let items: Vec<String> = items.into_iter().map(|item| format!("  - {item}\n")).collect();
    let rating = 2 + rng.below(4);
    format!(
        "---\nkind: build\nblank: model\nheld_at: 9 in\nbench:\n{}verdict: keep\nrating: {rating}\n---\n",
        items.concat()
    )
}

impl Readings {
    /// What is read with every power.
    pub(crate) fn of(reads: Reads) -> Self {
        Self { angle: reads == Reads::TipAngle, ..Self::default() }
    }
}

/// The true power of a piece after further cuts, for those who must know it.
pub(crate) fn true_power(piece: &Piece, tip: Length, butt: Length) -> Option<Mass> {
    piece.after(tip, butt).power(HELD_AT).ok()
}
