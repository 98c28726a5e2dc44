//! Readings of simulated blanks: how often a right one is called wrong, and a wrong one found.
//!
//! The truth behind them is not the tube model of the mechanics, and the clamp is neither level nor stiff.

use taperbook_testkit::beam::Clamp;
use taperbook_testkit::bench::{Bench, Instruments};
use taperbook_testkit::piece::Piece;
use taperbook_testkit::rng::Rng;
use taperbook_testkit::style::Style;
use taperbook_testkit::truth::{Spread, Truth};
use taperbook_units::Length;

use super::Texts;

const HELD_AT: Length = Length::from_inches(9.0);

/// A slip of one power reading: the item that it is in, and the factor.
type Slip = Option<(usize, f64)>;

/// Makes a shop with some models of some pieces each, all read and cut in three steps.
fn shop(seed: u64, n_models: usize, n_pieces: usize, slip: Slip) -> Texts {
    let mut rng = Rng::new(seed);
    let clamp = Clamp::random(&mut rng);
    let mut shop = Texts::default().with_any("shop.yaml", "held_at: 9 in\n");
    for model_idx in 0..n_models {
        let style = Style::ALL[model_idx % Style::ALL.len()];
        let model = Truth::random(&mut rng, style);
        let mut bench = Bench::new(clamp, Instruments::default(), Rng::new(rng.bits()));
        shop = shop.with_any(&format!("blanks/m{model_idx}.md"), &card(&model, style, &mut bench));
        for piece_idx in 0..n_pieces {
            let mut piece = Piece::uncut(model.sibling(&mut rng, &Spread::default()));
            let name = format!("m{model_idx}-{piece_idx}");
            let text = build(&mut piece, &mut bench, model_idx, slip);
            shop = shop.with_any(&format!("builds/{name}.md"), &text);
        }
    }
    shop
}

fn card(model: &Truth, style: Style, bench: &mut Bench) -> String {
    let piece = Piece::uncut(model.clone());
    let inches = piece.length().inches().floor();
    let calipers: String = (0..=8)
        .map(|station| Length::from_inches((inches * f64::from(station) / 8.0).floor()))
        .map(|at| {
            format!(
                "  - {{ at: {:.0} in, od: {:.2} mm }}\n",
                at.inches(),
                bench.read_od(&piece, at).mm()
            )
        })
        .collect();
    format!(
        "---\nkind: blank\nlength: {inches} in\nmaterial: {}\ncalipers:\n{calipers}---\n",
        style.material()
    )
}

fn build(piece: &mut Piece, bench: &mut Bench, model_idx: usize, slip: Slip) -> String {
    let mut items = String::new();
    let mut n_items = 0;
    for (tip, butt) in [(0.0, 0.0), (1.0, 0.0), (0.0, 3.0), (0.5, 0.0)] {
        if tip + butt != 0.0 {
            bench.cut(piece, Length::from_inches(tip), Length::from_inches(butt));
            let (end, cut) = if butt == 0.0 { ("tip", tip) } else { ("butt", butt) };
            items.push_str(&format!("  - cut: {{ {end}: {cut} in }}\n"));
            n_items += 1;
        }
        n_items += 1;
        let factor = slip.filter(|(item, _)| *item == n_items).map_or(1.0, |(_, factor)| factor);
        let power = bench.read_power(piece, HELD_AT).expect("it bends").g() * factor;
        items.push_str(&format!(
            "  - read: {{ length: {:.0} mm, weight: {:.1} g, tip_od: {:.2} mm, power: {:.0} g, tip_angle: {:.0} deg, frequency: {:.2} Hz }}\n",
            bench.read_length(piece).mm(),
            bench.read_weight(piece).g(),
            bench.read_tip_od(piece).mm(),
            power,
            bench.read_tip_angle(piece, HELD_AT).expect("it bends").deg(),
            bench.read_frequency(piece, HELD_AT).expect("it swings").hz(),
        ));
    }
    format!("---\nkind: build\nblank: m{model_idx}\nbench:\n{items}---\n")
}

/// Whether a build has a reading that is said to contradict physics, and what is said of it.
fn contradictions(shop: &Texts, id: &str) -> Vec<String> {
    let findings = shop.flags(id).into_iter();
    findings
        .filter(|finding| finding.flag == "reading-contradicts-physics")
        .map(|finding| finding.message)
        .collect()
}

fn builds(shop: &Texts) -> impl Iterator<Item = &str> {
    shop.texts.keys().filter(|id| id.starts_with("builds/")).map(String::as_str)
}

/// Each of these builds has 20 readings without a slip. The flag is meant to be wrong for one such build in 200, which
/// makes 0.3 of 60; three or more would come by chance once in 280 times (Poisson).
#[test]
fn right_readings_are_rarely_called_wrong() {
    let (mut n_builds, mut flagged) = (0, Vec::new());
    for (seed, n_models, n_pieces) in [(1, 12, 1), (2, 12, 1), (3, 12, 1), (4, 6, 4)] {
        let shop = shop(seed, n_models, n_pieces, None);
        for id in builds(&shop) {
            n_builds += 1;
            flagged.extend(contradictions(&shop, id));
        }
    }
    assert_eq!(n_builds, 60);
    assert!(flagged.len() < 3, "{flagged:?}");
}

/// A seventh too much or too little is six standard deviations of a reading that is taken out of the clamp and put back.
#[test]
fn a_slip_of_a_seventh_is_found_and_named() {
    for (seed, item, factor) in [(11, 3, 1.15), (12, 5, 0.85), (13, 1, 1.15)] {
        let shop = shop(seed, 6, 1, Some((item, factor)));
        for id in builds(&shop) {
            let found = contradictions(&shop, id);
            let named = format!(" in item {item}, but ");
            let is_named =
                |message: &String| message.starts_with("power reads") && message.contains(&named);
            assert!(found.iter().any(is_named), "{id}: {found:?}");
        }
    }
}

/// Records of realistic make, some of them mistyped, and each build with its text cut short: no flag panics, and every place
/// is in the file.
#[test]
fn no_record_is_too_odd() {
    let records: Vec<(String, String)> = taperbook_testkit::folder::records(120, 5).collect();
    for part in [1.0, 0.7] {
        let cut = |text: &str| {
            let at = text.len() as f64 * part;
            text.chars().take(taperbook_testkit::hand::whole(at)).collect::<String>()
        };
        let shop = records
            .iter()
            .fold(Texts::default(), |shop, (path, text)| shop.with_any(path, &cut(text)));
        for (id, text) in &shop.texts {
            for finding in shop.flags(id) {
                let span = finding.span.expect("every flag of this plugin has a place");
                assert!(text.get(span.clone()).is_some(), "{id}: {span:?} of {}", finding.message);
                assert!(
                    !finding.message.contains("NaN") && !finding.message.contains("no number"),
                    "{id}: {}",
                    finding.message
                );
            }
        }
    }
}
