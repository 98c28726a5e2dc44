//! Generated blank cards and fittings.

use std::fmt::Write as _;

use crate::hand::{decimal, feet, to_step};
use crate::rng::Rng;

use super::stock::Card;
use super::words::Words;

pub(super) fn blank(card: &Card, rng: &mut Rng, words: &Words) -> String {
    let length = card.length();
    let mut text = format!(
        "---\nkind: blank\nmaker: {}\nlength: {}\npieces: 1\nmaterial: {}\ntip: tubular\nweight: {} g\ncalipers:\n",
        words.maker(rng),
        feet(length),
        card.material(),
        decimal(to_step(card.weight(), 0.5), 1),
    );
    let n_stations = 2 + rng.below(7);
    for i in 0..n_stations {
        let part = i as f64 / (n_stations - 1) as f64;
        let at = if i + 1 == n_stations { length } else { (part * length).round() };
        let od = to_step(card.od(at) + 0.03 * rng.normal(), 0.05);
        let wall = if i == 0 || rng.chance(0.2) {
            format!(", wall: {:.2} mm", to_step(card.wall(at), 0.05))
        } else {
            String::new()
        };
        let at = decimal(at, 3);
        // Writing to a `String` can't fail.
        let _ = writeln!(text, "  - {{ at: {at} in, od: {od:.2} mm{wall} }}");
    }
    let name = &card.name;
    let _ = write!(text, "---\n# {name}\n\n{}", words.paragraph(2, rng));
    text
}

pub(super) fn fitting(rng: &mut Rng, words: &Words) -> String {
    let part = *rng.pick(&["tip-top", "tip-top", "butt-ferrule", "reel-seat", "guide"]);
    let mut text = format!("---\nkind: fitting\npart: {part}\nsizes:\n");
    for _ in 0..=rng.below(5) {
        let count = rng.below(12);
        let size = match part {
            "tip-top" => {
                let marked = 4.0 + 0.5 * rng.below(9) as f64;
                let bore = marked * 25.4 / 64.0 + rng.between(-0.02, 0.08);
                let marked = decimal(marked, 1);
                format!("marked: {marked}/64 in, bore: {bore:.2} mm, ring: {} mm", 4 + rng.below(5))
            }
            "guide" => {
                let ring = 4 + rng.below(20);
                format!("marked: {ring} mm, ring: {ring} mm")
            }
            _ => {
                let marked = 9 + rng.below(9);
                format!(
                    "marked: {marked} mm, bore: {:.2} mm",
                    marked as f64 + rng.between(0.0, 0.2)
                )
            }
        };
        let _ = writeln!(text, "  - {{ {size}, count: {count} }}");
    }
    let weight = decimal(rng.between(0.3, 20.0), 1);
    let _ = write!(text, "adds: {{ weight: {weight} g }}\n---\n{}", words.paragraph(1, rng));
    text
}
