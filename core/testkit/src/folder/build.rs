//! Generated builds.

use std::fmt::Write as _;

use crate::hand::{decimal, eighths, feet, to_step};
use crate::rng::Rng;

use super::stock::Card;
use super::words::Words;

/// How far along a build is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stage {
    Uncut,
    InWork,
    Finished,
}

/// A build's piece as it goes: what came off and how it differs from its model.
struct State<'a> {
    card: &'a Card<'a>,
    /// Inches, uncut.
    length: f64,
    /// What this piece's power is scaled by.
    piece: f64,
    /// Inches.
    tip: f64,
    /// Inches.
    butt: f64,
}

impl State<'_> {
    fn now(&self) -> f64 {
        self.length - self.tip - self.butt
    }

    fn tip_od(&self) -> f64 {
        self.card.od(self.card.length() - self.tip)
    }

    fn power(&self) -> f64 {
        self.piece * self.card.power(self.tip, self.butt)
    }

    fn read_power(&self, rng: &mut Rng) -> String {
        let power = self.power() * (1.0 + 0.02 * rng.normal());
        format!("power: {} g", decimal(to_step(power, step(power)), 0))
    }

    fn read_tip(&self, rng: &mut Rng) -> String {
        let od = to_step(self.tip_od() + 0.05 * rng.normal(), 0.05);
        format!("tip_od: {od:.2} mm")
    }
}

fn step(grams: f64) -> f64 {
    if grams < 100.0 { 1.0 } else { 5.0 }
}

pub(super) fn build(
    card: &Card,
    customer: &str,
    year: usize,
    rng: &mut Rng,
    words: &Words,
) -> String {
    let mut state = State {
        card,
        length: card.length() + 0.125 * rng.normal().round(),
        piece: (0.04 * rng.normal()).exp(),
        tip: 0.0,
        butt: 0.0,
    };
    let stage = match rng.unit() {
        part if part < 0.12 => Stage::Uncut,
        part if part < 0.22 => Stage::InWork,
        _ => Stage::Finished,
    };
    let (month, day) = (1 + rng.below(12), 1 + rng.below(28));
    let cuts = cuts(rng);
    let mut bench = String::new();
    let mut line = |item: String| {
        // Writing to a `String` can't fail.
        let _ = writeln!(bench, "  - {item}");
    };
    let weight = decimal(to_step(card.weight() + 0.5 * rng.normal(), 0.5), 1);
    let angle = decimal(card.angle(0.0) + 1.5 * rng.normal(), 0);
    line(format!(
        "read: {{ length: {}, {}, weight: {weight} g, {}, tip_angle: {angle} deg }}",
        feet(state.length),
        state.read_tip(rng),
        state.read_power(rng),
    ));
    let total = cuts.iter().fold((0.0, 0.0), |sum, cut| (sum.0 + cut.0, sum.1 + cut.1));
    if rng.chance(0.5) {
        line(format!("plan: {{ {} }}", ends(total)));
    }
    let done = match stage {
        Stage::Uncut => 0,
        Stage::InWork => rng.below(cuts.len()),
        Stage::Finished => cuts.len(),
    };
    for (k, &cut) in cuts[..done].iter().enumerate() {
        state.tip += cut.0;
        state.butt += cut.1;
        let saw = if 0.0 < cut.0 { "rotary disc" } else { "fine saw" };
        let day = 1 + (day + k) % 28;
        line(format!("cut: {{ {}, with: {saw}, date: {year}-{month:02}-{day:02} }}", ends(cut)));
        let mut parts = vec![state.read_power(rng)];
        if 0.0 < cut.0 {
            parts.insert(0, state.read_tip(rng));
        } else {
            parts.insert(0, format!("length: {}", feet(state.now())));
        }
        line(format!("read: {{ {} }}", parts.join(", ")));
        if rng.chance(0.4) {
            line(format!("feel: {}", words.feel(rng)));
        }
    }
    let (mut end_tip, mut end_butt) = (state.tip, state.butt);
    for cut in &cuts[done..] {
        end_tip += cut.0;
        end_butt += cut.1;
    }
    let end = State { tip: end_tip, butt: end_butt, ..state };
    let mut text = format!(
        "---\nkind: build\nblank: {}\ncustomer: {customer}\npurpose: {}\ndate: {year}-{month:02}-{day:02}\n",
        card.name,
        words.purpose(rng),
    );
    // One finished build in forty lies an inch and more below what its customer allows.
    let strayed = if stage == Stage::Finished && rng.chance(0.025) { 3.0 } else { 0.0 };
    let low = (end.now() - rng.between(1.0, 2.0)).floor() + strayed;
    let high = (end.now() + rng.between(1.0, 2.0)).ceil() + strayed;
    let power = end.power();
    let tens = |power: f64| decimal(to_step(power, 10.0), 0);
    let (weak, strong) = (tens(0.86 * power), tens(1.15 * power + 5.0));
    let thick = decimal(to_step(end.tip_od() + 0.3, 0.1), 1);
    let _ = writeln!(
        text,
        "limits: {{ length: {} .. {}, tip_od: .. {thick} mm, power: {weak} g .. {strong} g }}\naim: {{ length: {}, power: {} g }}\nbench:\n{}",
        feet(low),
        feet(high),
        feet(to_step(end.now(), 0.5)),
        decimal(to_step(power * (1.0 + 0.03 * rng.normal()), 5.0), 0),
        bench.trim_end(),
    );
    if stage == Stage::Finished {
        let rating = 5 - rng.zipf(5);
        let verdict = match rating {
            1 => "scrap",
            2 => "recut",
            _ => "keep",
        };
        let _ = writeln!(text, "verdict: {verdict}\nrating: {rating}");
    }
    let sentences = 2 + rng.below(5);
    let _ = write!(text, "---\n{}", words.paragraph(sentences, rng));
    if rng.chance(0.005) {
        text = text.replacen("tip_od: 1.", "tip_od: 1,", 1);
    }
    text
}

/// The cuts of a build in inches off the tip and the butt: one to three at the tip, mostly one at the butt.
fn cuts(rng: &mut Rng) -> Vec<(f64, f64)> {
    let quarter = |inches: f64| to_step(inches, 0.25).max(0.25);
    let mut cuts: Vec<(f64, f64)> =
        (0..=rng.below(3)).map(|_| (quarter(rng.between(0.25, 1.25)), 0.0)).collect();
    if rng.chance(0.85) {
        cuts.push((0.0, quarter(rng.between(0.5, 4.0))));
    }
    cuts
}

fn ends((tip, butt): (f64, f64)) -> String {
    let ends = [("tip", tip), ("butt", butt)];
    let written: Vec<String> = ends
        .iter()
        .filter(|(_, inches)| 0.0 < *inches)
        .map(|(end, inches)| format!("{end}: {} in", eighths(*inches)))
        .collect();
    written.join(", ")
}
