//! How the builder of the demo shop writes: the record's text, and numbers rounded to what the instruments show.

use std::fmt::Write as _;

use taperbook_units::{Length, Mass};

use crate::hand::{decimal, eighths, feet, to_step};

use super::{Ask, Job, Limit, Limited};

impl Job {
    /// Writes the record.
    pub(in crate::demo) fn record(&self) -> String {
        let mut text = format!("---\nkind: build\nblank: {}\n{}", self.model.name, self.head);
        let mut line = |line: String| {
            let _ = writeln!(text, "{line}");
        };
        if self.states_hold {
            line(format!("held_at: {}", self.short(self.held_at)));
        }
        if !self.limits.is_empty() {
            let limits: Vec<String> = self.limits.iter().map(|limit| self.range(limit)).collect();
            line(format!("limits: {{ {} }}", limits.join(", ")));
        }
        if let Some((inches, grams)) = self.aim {
            let length = self.long(Length::from_inches(inches));
            line(format!("aim: {{ length: {length}, power: {grams} g }}"));
        }
        if !self.bench.is_empty() {
            line(format!("bench:\n{}", self.bench.trim_end()));
        }
        if let Some((verdict, rating)) = self.verdict {
            line(format!("verdict: {verdict}\nrating: {rating}"));
        }
        if let Some(told) = self.told {
            line(format!("told: {told}"));
        }
        text = text + "---\n" + self.body;
        if self.hurried { mistyped(&text) } else { text }
    }

    pub(super) fn reading(&mut self, ask: Ask) -> String {
        let sagging = "a demo blank can be read";
        match ask {
            Ask::Length => {
                let length = self.length_reading();
                self.by_sums = Some(length.m());
                self.last[0] = Some(length.m());
                format!("length: {}", self.long(length))
            }
            Ask::TipOd => {
                let od = to_step(self.rig.read_tip_od(&self.piece).mm(), 0.05);
                self.last[1] = Some(1e-3 * od);
                format!("tip_od: {od:.2} mm")
            }
            Ask::ButtOd => {
                let od = to_step(self.rig.read_butt_od(&self.piece).mm(), 0.05);
                format!("butt_od: {od:.2} mm")
            }
            Ask::Weight => {
                let weight = to_step(self.rig.read_weight(&self.piece).g(), 0.5);
                format!("weight: {} g", decimal(weight, 1))
            }
            Ask::Balance => {
                let balance = self.rig.read_balance(&self.piece);
                format!("balance: {}", self.short(balance))
            }
            Ask::Power => {
                let power = self.rig.read_power(&self.piece, self.held_at).expect(sagging);
                let power = to_step(power.g(), step_of_weights(power.g()));
                self.last[2] = Some(1e-3 * power);
                format!("power: {} g", decimal(power, 0))
            }
            Ask::Angle => {
                let angle = self.rig.read_tip_angle(&self.piece, self.held_at).expect(sagging);
                format!("tip_angle: {} deg", decimal(angle.deg(), 0))
            }
            Ask::Frequency => {
                let recovery = self.rig.read_frequency(&self.piece, self.held_at).expect(sagging);
                format!("frequency: {} Hz", decimal(to_step(recovery.hz(), 0.05), 2))
            }
            Ask::Board => self.board_reading(),
        }
    }

    fn board_reading(&mut self) -> String {
        let power = self.rig.read_power(&self.piece, self.held_at).expect("it can be read");
        let load = Mass::from_g(to_step(power.g(), 50.0));
        let outward: Vec<Length> = (1..=5).map(|i| Length::from_mm(300.0 * f64::from(i))).collect();
        let points = self.rig.read_board(&self.piece, self.held_at, load, &outward);
        let points: Vec<String> = points
            .expect("it can be read")
            .iter()
            .map(|(x, y)| format!("[{} mm, {} mm]", decimal(x.mm(), 0), decimal(y.mm(), 0)))
            .collect();
        format!("board: [{{ load: {}, points: [{}] }}]", grams(load), points.join(", "))
    }

    /// A length that disagrees with the sum of the cuts is taken again, as a careful builder does.
    fn length_reading(&mut self) -> Length {
        let step = if self.metric { 1.0 } else { 25.4 / 8.0 };
        loop {
            let length = to_step(self.rig.read_length(&self.piece).mm(), step);
            if self.by_sums.is_none_or(|sum| (1e3 * sum - length).abs() < 2.0) {
                return Length::from_mm(length);
            }
        }
    }

    pub(super) fn ends(&self, tip: f64, butt: f64) -> Vec<String> {
        [("tip", tip), ("butt", butt)]
            .iter()
            .filter(|(_, inches)| 0.0 < *inches)
            .map(|(end, inches)| format!("{end}: {}", self.short(Length::from_inches(*inches))))
            .collect()
    }

    fn long(&self, length: Length) -> String {
        if self.metric { format!("{:.0} mm", length.mm()) } else { feet(length.inches()) }
    }

    fn short(&self, length: Length) -> String {
        if self.metric {
            format!("{:.0} mm", length.mm())
        } else {
            format!("{} in", eighths(length.inches()))
        }
    }

    fn range(&self, limit: &Limit) -> String {
        let write = |value: f64| match limit.of {
            Limited::Length => self.long(Length::from_inches(value)),
            Limited::TipOd | Limited::ButtOd => format!("{value:.1} mm"),
            Limited::Power => format!("{} g", decimal(value, 0)),
        };
        let key = match limit.of {
            Limited::Length => "length",
            Limited::TipOd => "tip_od",
            Limited::ButtOd => "butt_od",
            Limited::Power => "power",
        };
        let (low, high) = (limit.low.map(write), limit.high.map(write));
        let range = format!("{} .. {}", low.unwrap_or_default(), high.unwrap_or_default());
        format!("{key}: {}", range.trim())
    }
}

pub(super) fn grams(mass: Mass) -> String {
    format!("{} g", decimal(to_step(mass.g(), step_of_weights(mass.g())), 0))
}

/// The builder's set of weights: single grams up to 100 g, then pairs, then fives.
fn step_of_weights(grams: f64) -> f64 {
    if grams < 100.0 {
        1.0
    } else if grams < 300.0 {
        2.0
    } else {
        5.0
    }
}

/// Spoils the purpose's key, the first tip diameter and the first weight of a record.
fn mistyped(text: &str) -> String {
    let mut text = text.replacen("purpose:", "purpuse:", 1);
    if let Some(at) = text.find("tip_od: ") {
        let rest = text[at..].replacen('.', ",", 1);
        text.replace_range(at.., &rest);
    }
    if let Some(at) = text.find("weight: ") {
        let rest = text[at..].replacen(" g,", ",", 1);
        text.replace_range(at.., &rest);
    }
    text
}
