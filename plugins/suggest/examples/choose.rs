//! How long a brief against many blanks takes: `cargo run --release -p taperbook-suggest --example choose -- CARDS BUILDS`.
//!
//! The first answer fits every blank and its past builds; the others find that done, as in a daemon that has examined its
//! shop. It times and prints, and holds nothing against a goal.

#![expect(clippy::print_stdout, reason = "its lines are what it is for")]

#[path = "../tests/suggest/shop.rs"]
mod shop;

use std::time::Instant;

use shop::Shop;

fn main() {
    let mut arguments = std::env::args().skip(1).map(|word| word.parse::<u32>());
    let mut next = |usual: u32| arguments.next().and_then(Result::ok).unwrap_or(usual);
    let (n_cards, n_builds) = (next(200), next(3));
    let mut shop = Shop::default();
    shop.put("shop.yaml", "name: a shop\n");
    for card in 0..n_cards {
        // Blanks from 6 ft to 9 ft, thin and stout.
        let part = f64::from(card) / f64::from(n_cards.max(2) - 1);
        let (length, thicker) = (72.0 + 36.0 * part, 0.8 + 0.4 * f64::from(card % 7) / 6.0);
        let stations: String = [
            (0.0, 11.2),
            (0.1, 10.2),
            (0.33, 8.4),
            (0.5, 6.8),
            (0.67, 5.0),
            (0.85, 3.1),
            (1.0, 1.8),
        ]
        .map(|(at, od)| {
            format!("  - {{ at: {:.2} in, od: {:.2} mm }}\n", at * length, od * thicker)
        })
        .concat();
        shop.put(
            &format!("blanks/c{card}.md"),
            &format!("---\nkind: blank\nlength: {length:.2} in\nmaterial: carbon\nheld_at: 9 in\ncalipers:\n{stations}---\n"),
        );
        for build in 0..n_builds {
            let power = 220.0
                * thicker.powi(4)
                * (84.0 / length).powi(2)
                * (1.0 + 0.03 * f64::from(build % 3));
            shop.put(
                &format!("builds/c{card}-b{build}.md"),
                &format!("---\nkind: build\nblank: c{card}\nrating: 4\npurpose: spoons for trout\nbench:\n  - read: {{ length: {length:.2} in, power: {power:.0} g }}\n  - cut: {{ tip: 1 in }}\n---\n"),
            );
        }
    }
    println!("{n_cards} blanks with {n_builds} past builds each");
    let close = (
        "length: 80 in, power: 235 g",
        "length: 78 in .. 82 in, power: 200 g .. 270 g, tip_od: .. 2.4 mm",
    );
    for (what, (aim, limits)) in [
        ("the first answer, nothing fitted yet", close),
        ("length, power and tip limited", close),
        ("the same once more", close),
        ("a power alone, all lengths", ("power: 235 g", "")),
        (
            "power, tip angle and recovery",
            ("power: 235 g, tip_angle: 60 deg, recovery: 6 Hz", "length: 78 in .. 84 in"),
        ),
    ] {
        #[expect(clippy::disallowed_methods, reason = "it times")]
        let start = Instant::now();
        let advice = shop.choose(aim, limits, "trout");
        let took = start.elapsed().as_secs_f64() * 1e3;
        println!("{took:8.0} ms  {what}; {} of {} told", advice.blanks.len(), advice.considered);
    }
}
