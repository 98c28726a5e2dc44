//! What a model's builds teach, and what must not be able to fool it: odd pieces, missing dates, wrong cards, calipers of two pieces.

use taperbook_plugin::View;
use taperbook_record::Measure;
use taperbook_units::Length;

use super::{STATED, Texts, bench_text};
use crate::{Cuts, Fitted, boards_from_readings, model, piece, setup_of};

const HELD: &str = "held_at: 200 mm\n";

/// A card that states neither modulus nor density.
fn open() -> String {
    STATED.replace("modulus: 90 GPa\ndensity: 1550 kg/m3\n", "")
}

/// How pieces of one model lie about their mean, in standard deviations.
const PIECES: [f64; 20] = [
    0.3, -1.2, 0.8, -0.1, 1.4, -0.7, 0.1, 0.9, -1.5, 0.4, -0.4, 1.0, -0.6, 0.2, -0.9, 0.6, 1.2,
    -0.2, -1.0, 0.5,
];

/// A shop with one dated and finished build for each power, in g.
fn built(powers: impl Iterator<Item = f64>) -> Texts {
    let mut shop = Texts::default().with("blanks/stated.md", &open());
    for (idx, power) in powers.enumerate() {
        let more = format!("{HELD}date: 2024-01-{:02}\nverdict: keep\n", idx + 1);
        let items = format!("read: {{ length: 2 m, power: {power:.0} g }}");
        shop = shop.with(&format!("builds/p{idx:02}.md"), &bench_text(&more, &items));
    }
    shop
}

fn value(shop: &Texts, measure: Measure) -> f64 {
    let piece = piece(&View::new(&shop.0), "builds/z").expect("it is a build");
    piece.value(measure, piece.walk.present().off, Length::from_mm(200.0)).expect("it bends")
}

#[test]
fn one_odd_piece_is_no_batch() {
    for odd in [17, 18, 19] {
        let power = |idx: usize| if idx == odd { 0.7 } else { 1.0 };
        let shop = built((0..20).map(|idx| 250.0 * power(idx) * (1.0 + 0.04 * PIECES[idx])));
        let found = model(&View::new(&shop.0), "blanks/stated").change;
        assert_eq!(found, None, "{odd}");
    }
    // Three of them are one.
    let power = |idx: usize| if 17 <= idx { 0.7 } else { 1.0 };
    let shop = built((0..20).map(|idx| 250.0 * power(idx) * (1.0 + 0.04 * PIECES[idx])));
    let found = model(&View::new(&shop.0), "blanks/stated").change;
    assert_eq!(found.map(|change| change.first), Some(17));
}

/// Many builds are added up in parts by their ids, and what they teach must not hang on that.
#[test]
fn the_names_of_many_builds_teach_nothing() {
    const N: usize = 530;
    let shop = |name: fn(usize) -> usize| {
        (0..N).fold(Texts::default().with("blanks/stated.md", &open()), |shop, idx| {
            let date = format!("{}-{:02}-{:02}", 2020 + idx / 144, 1 + idx / 12 % 12, 1 + idx % 12);
            let softer = if N - 6 <= idx { 0.7 } else { 1.0 };
            let power = 250.0 * softer * (1.0 + 0.04 * PIECES[idx % 20]);
            let items = format!("read: {{ length: 2 m, power: {power:.0} g }}");
            let more = format!("{HELD}date: {date}\nverdict: keep\n");
            shop.with(&format!("builds/p{:03}.md", name(idx)), &bench_text(&more, &items))
        })
    };
    let found = |shop: &Texts| {
        let model = model(&View::new(&shop.0), "blanks/stated");
        let change = model.change.expect("it is softer from then on");
        assert_eq!(model.pieces.len(), N);
        (change.first, [model.spread, change.odds.ln()])
    };
    let (first, in_order) = found(&shop(|idx| idx));
    // 7 and 530 have no factor in common.
    let (first_of_mixed, mixed) = found(&shop(|idx| 7 * idx % N));
    assert_eq!(first, first_of_mixed);
    for (in_order, mixed) in in_order.into_iter().zip(mixed) {
        assert!((in_order - mixed).abs() < 1e-9, "{in_order} {mixed}");
    }
}

#[test]
fn a_piece_without_a_date_that_is_still_on_the_bench_is_of_the_latest_batch() {
    let power = |idx: usize| if 6 <= idx { 1.35 } else { 1.0 };
    let shop = |items: &str| {
        built((0..12).map(|idx| 250.0 * power(idx) * (1.0 + 0.03 * PIECES[idx])))
            .with("builds/z.md", &bench_text(HELD, items))
    };
    let fresh = value(&shop("read: { length: 2 m }"), Measure::Power);
    assert!((0.33..0.35).contains(&fresh), "{fresh}");
    // A weight tells little of power, and least of all which batch it is of.
    let weighed = value(&shop("read: { length: 2 m, weight: 40 g }"), Measure::Power);
    assert!((weighed / fresh - 1.0).abs() < 0.02, "{weighed} {fresh}");
}

#[test]
fn a_caliper_put_to_the_piece_is_believed_where_its_card_is_wrong() {
    // The tip is 0.28 mm thinner than the card says, as all pieces show.
    let card = open().replace(
        "  - { at: 2000 mm",
        "  - { at: 700 mm, od: 7.2 mm }\n  - { at: 1400 mm, od: 4.4 mm }\n  - { at: 2000 mm",
    );
    let shop = |items: &str| {
        let mut shop = Texts::default().with("blanks/stated.md", &card);
        for idx in 0..6 {
            let items = format!("read: {{ length: 2 m, tip_od: 1.7{idx} mm, power: 25{idx} g }}");
            shop = shop.with(&format!("builds/p{idx}.md"), &bench_text(HELD, &items));
        }
        shop.with("builds/z.md", &bench_text(HELD, items))
    };
    let at_tip =
        shop("read: { length: 2 m, tip_od: 1.72 mm, calipers: [{ at: 2000 mm, od: 1.72 mm }] }");
    let tip = value(&at_tip, Measure::TipOd) * 1e3;
    assert!((tip - 1.72).abs() < 1e-6, "{tip}");
    let at_cut = shop(
        "read: { length: 2 m, tip_od: 1.72 mm, calipers: [{ at: 1900 mm, od: 2.22 mm }] }
        cut: { tip: 100 mm }",
    );
    let tip = value(&at_cut, Measure::TipOd) * 1e3;
    assert!((tip - 2.22).abs() < 1e-6, "{tip}");
    // It is as sure as a caliper is: 0.03 mm.
    let piece = piece(&View::new(&at_cut.0), "builds/z").expect("it is a build");
    let outcome = piece.outcome(piece.walk.present().off, Length::from_mm(200.0)).expect("known");
    let deviation = crate::limits::deviation(&outcome, Measure::TipOd) * 1e3;
    assert!((0.029..0.035).contains(&deviation), "{deviation}");
}

#[test]
fn boards_do_not_pay_for_a_card_that_its_pieces_prove_wrong() {
    let bulging = |card: &str| {
        let more = "  - { at: 700 mm, od: 8 mm }\n  - { at: 1400 mm, od: 5 mm }\n  - { at: 2000 mm";
        card.replace("  - { at: 2000 mm", more)
    };
    let right = (0..6).fold(
        Texts::default()
            .with("shop.yaml", "boards: { wall: { clamp: oak } }\n")
            .with("blanks/open.md", &bulging(&open())),
        |shop, idx| with_build(shop, "open", idx),
    );
    let tilt = |shop: &Texts| {
        let view = View::new(&shop.0);
        let board = setup_of(&view.shop(), None).board;
        boards_from_readings(&view).expect("there are cards").tilt_of(board).expect("it was used")
    };
    let found = tilt(&right);
    let wrong = (0..6).fold(
        right.with(
            "blanks/stated.md",
            &bulging(STATED).replace("90 GPa", "180 GPa").replace("density: 1550 kg/m3\n", ""),
        ),
        |shop, idx| with_build(shop, "stated", idx),
    );
    assert!(model(&View::new(&wrong.0), "blanks/stated").card_is_doubted);
    let beside = tilt(&wrong);
    let apart = (beside.value - found.value).abs().to_degrees();
    assert!(apart < 0.4, "{:?} {:?}", found.value.to_degrees(), beside.value.to_degrees());
}

/// The powers of two pieces are enough against a modulus that is a third off, and against half or twice of it where few diameters were read.
#[test]
fn a_few_readings_are_enough_to_doubt_a_stated_modulus() {
    let calipers: String = (1..8)
        .map(|idx| format!("  - {{ at: {} mm, od: {} mm }}\n", 250 * idx, 10 - idx))
        .collect();
    let dense = STATED.replace("  - { at: 2000", &format!("{calipers}  - {{ at: 2000"));
    // With its modulus right STATED is worked out to hold 179 g.
    let (alone, sibling) =
        ("read: { length: 2 m, power: 179 g }", "read: { length: 2 m, power: 174 g }");
    let found = |card: &str, modulus: &str, siblings: &[&str]| {
        let mut shop = Texts::default()
            .with("blanks/stated.md", &card.replace("90 GPa", modulus))
            .with("builds/z.md", &bench_text(HELD, alone));
        for (idx, items) in siblings.iter().enumerate() {
            shop = shop.with(&format!("builds/s{idx}.md"), &bench_text(HELD, items));
        }
        let piece = piece(&View::new(&shop.0), "builds/z").expect("it is a build");
        let outcome = piece.outcome(Cuts::default(), Length::from_mm(200.0)).expect("it bends");
        let power = outcome.estimate(taperbook_mechanics::fit::Measure::Power).expect("it bends");
        let fitted = piece.fitted.as_ref().expect("it can be computed");
        (fitted.card_is_doubted, power)
    };
    for (card, siblings) in
        [(STATED, &[][..]), (STATED, &[sibling]), (&dense, &[]), (&dense, &[sibling])]
    {
        assert!(!found(card, "90 GPa", siblings).0, "{card} {siblings:?}");
    }
    let doubted = |card: &str, modulus: &str, siblings: &[&str]| {
        let (doubted, power) = found(card, modulus, siblings);
        assert!(doubted, "{modulus} {siblings:?}");
        assert!(power.low < 0.179 && 0.179 < power.high, "{modulus} {siblings:?}: {power:?}");
    };
    for wrong in ["180 GPa", "45 GPa"] {
        doubted(&dense, wrong, &[]);
        doubted(STATED, wrong, &[sibling]);
    }
    for wrong in ["120 GPa", "67 GPa"] {
        doubted(&dense, wrong, &[sibling]);
    }
    // One piece that is off by itself, or its one reading, is no proof.
    let slip = "read: { length: 2 m, power: 360 g }";
    assert!(!found(&dense, "90 GPa", &[slip]).0);
}

/// A fit knows of two slips at once; a third behind them must not drag the rest along.
#[test]
fn slips_beyond_the_second_are_left_out_where_what_stays_goes_together() {
    let strays = |powers: &[f64]| {
        let readings: String =
            powers.iter().map(|power| format!("\nread: {{ power: {power} g }}")).collect();
        let shop = Texts::default()
            .with("blanks/stated.md", &open())
            .with("builds/z.md", &bench_text(HELD, &format!("read: {{ length: 2 m }}{readings}")));
        let piece = piece(&View::new(&shop.0), "builds/z").expect("it is a build");
        let fitted: &Fitted = piece.fitted.as_ref().expect("it can be computed");
        (fitted.strays.clone(), value(&shop, Measure::Power))
    };
    let (none, right) = strays(&[250.0, 252.0, 249.0]);
    assert_eq!(none, []);
    let (found, power) = strays(&[250.0, 252.0, 249.0, 120.0, 25.0, 400.0]);
    assert_eq!(found, [3, 4, 5]);
    assert!((power / right - 1.0).abs() < 1e-3, "{power} {right}");
    let (found, _) = strays(&[250.0, 252.0, 249.0, 251.0, 248.0, 300.0, 320.0, 210.0, 215.0]);
    assert_eq!(found, [5, 6, 7, 8]);
    // Where no half of them agrees, no more are left out than are all but proven by themselves.
    let (found, _) = strays(&[250.0, 300.0, 200.0, 350.0, 280.0, 220.0]);
    assert!(found.len() <= 2, "{found:?}");
}

/// Five points under a weight that was misread are one slip: what else is known says whether it is they or the power that is wrong.
#[test]
fn a_bend_is_one_reading_when_it_contradicts_a_power() {
    let plain = built([250.0].into_iter());
    let view = View::new(&plain.0);
    let uncut = piece(&view, "builds/p00").expect("it is a build");
    let (held_at, load) = (Length::from_mm(200.0), taperbook_units::Mass::from_g(120.0));
    let places = uncut.bent(Cuts::default(), held_at, load, 6).expect("it bends");
    let bend = |part: f64| {
        let points = places.iter().skip(1);
        let points: Vec<String> = points
            .map(|place| format!("[{:.0} mm, {:.0} mm]", place.x.mm(), part * place.y.mm()))
            .collect();
        format!("read: {{ board: [{{ load: 120 g, points: [{}] }}] }}", points.join(", "))
    };
    let strays = |n_past: usize, items: &[String]| {
        let items = items.join("\n");
        let shop = built((0..n_past).map(|idx| 250.0 * (1.0 + 0.02 * PIECES[idx])))
            .with("builds/z.md", &bench_text(HELD, &format!("read: {{ length: 2 m }}\n{items}")));
        let piece = piece(&View::new(&shop.0), "builds/z").expect("it is a build");
        piece.fitted.as_ref().expect("it can be computed").strays.clone()
    };
    let power = |grams: f64| format!("read: {{ power: {grams} g }}");
    let (all_points, both) = (vec![1, 2, 3, 4, 5], vec![0, 1, 2, 3, 4, 5]);
    assert_eq!(strays(8, &[power(250.0), bend(1.0)]), []);
    for wrong in [0.7, 1.4] {
        // By the past builds it is the bend; with none nobody can tell, and neither counts.
        assert_eq!(strays(8, &[power(250.0), bend(wrong)]), all_points, "{wrong}");
        assert_eq!(strays(0, &[power(250.0), bend(wrong)]), both, "{wrong}");
        // Nor does a bend outvote two powers that agree, or a bend of its own.
        let twice = strays(0, &[power(250.0), bend(wrong), power(252.0)]);
        assert_eq!(twice, all_points, "{wrong}");
        let bends = strays(0, &[power(250.0), bend(wrong), bend(1.0)]);
        assert_eq!(bends, all_points, "{wrong}");
    }
    for wrong in [170.0, 340.0] {
        assert_eq!(strays(8, &[power(wrong), bend(1.0)]), [0], "{wrong}");
    }
}

fn with_build(shop: Texts, blank: &str, idx: usize) -> Texts {
    let items = format!("read: {{ length: 2 m, power: 25{idx} g, tip_angle: 60 deg }}");
    let text = bench_text(HELD, &items).replace("blank: stated", &format!("blank: {blank}"));
    shop.with(&format!("builds/{blank}{idx}.md"), &text)
}

/// Readings of which nothing can be told, as where the grip is beyond the tip, are no slips and hide none.
#[test]
fn a_slip_is_named_beside_readings_that_can_not_be_foretold() {
    let items = "read: { length: 2 m, power: 250 g }
        read: { power: 251 g }
        read: { power: 249 g }
        read: { power: 205 g }
        cut: { tip: 1750 mm }
        read: { power: 900 g, held_at: 260 mm }
        read: { power: 900 g, held_at: 255 mm }
        read: { power: 900 g, held_at: 252 mm }";
    let mut shop = Texts::default().with("blanks/stated.md", &open());
    // Each grip beyond the tip is a problem of the record, which is read all the same.
    let parsed = taperbook_record::read("builds/z.md", bench_text(HELD, items).as_bytes());
    assert_eq!(parsed.problems.len(), 3, "{:?}", parsed.problems);
    shop.0.put(parsed.record);
    let piece = piece(&View::new(&shop.0), "builds/z").expect("it is a build");
    let fitted: &Fitted = piece.fitted.as_ref().expect("it can be computed");
    let unpredicted = fitted.all.residuals().iter().filter(|one| one.predicted.is_err()).count();
    assert_eq!((unpredicted, &fitted.strays[..]), (3, &[3][..]));
    let power = piece.value(Measure::Power, Cuts::default(), Length::from_mm(200.0));
    assert!((power.expect("it bends") / 0.25 - 1.0).abs() < 0.05, "{power:?}");
}

/// A slip does not come twice the same: two powers that agree are believed against the past builds, one is not, nor two that differ.
#[test]
fn two_powers_that_agree_are_no_slips_though_all_past_builds_are_stiffer() {
    let shop = |items: &str| {
        built((0..8).map(|idx| 250.0 * (1.0 + 0.02 * PIECES[idx])))
            .with("builds/z.md", &bench_text(HELD, items))
    };
    let strays = |items: &str| {
        let piece = piece(&View::new(&shop(items).0), "builds/z").expect("it is a build");
        piece.fitted.as_ref().expect("it can be computed").strays.clone()
    };
    let length = "read: { length: 2 m }";
    assert_eq!(strays(&format!("{length}\nread: {{ power: 150 g }}")), [0]);
    assert_eq!(
        strays(&format!("{length}\nread: {{ power: 150 g }}\nread: {{ power: 100 g }}")),
        [0, 1]
    );
    let twice = format!("{length}\nread: {{ power: 150 g }}\nread: {{ power: 153 g }}");
    assert_eq!(strays(&twice), []);
    let power = value(&shop(&twice), Measure::Power);
    assert!((0.14..0.20).contains(&power), "{power}");
    // Before and after a cut is as good as twice.
    let cut = format!(
        "{length}\nread: {{ power: 150 g }}\ncut: {{ tip: 20 mm }}\nread: {{ power: 156 g }}"
    );
    assert_eq!(strays(&cut), []);
    // Where others of the same piece speak against them, they are out.
    let outvoted = format!(
        "{length}\nread: {{ power: 250 g }}\nread: {{ power: 251 g }}\nread: {{ power: 249 g }}\nread: {{ power: 150 g }}\nread: {{ power: 152 g }}"
    );
    assert_eq!(strays(&outvoted), [3, 4]);
}

/// Nods counted by halves: the surest instrument, and wrong by a hundred of its standard deviations.
#[test]
fn a_frequency_that_was_miscounted_does_not_outweigh_two_powers() {
    let shop = |more: &str| {
        let items = format!(
            "read: {{ length: 2 m, power: 250 g, tip_angle: 60 deg, weight: 46 g }}\nread: {{ power: 252 g }}{more}"
        );
        Texts::default()
            .with("blanks/stated.md", &open())
            .with("builds/z.md", &bench_text(HELD, &items))
    };
    let plain = shop("");
    let (power, recovery) = (value(&plain, Measure::Power), value(&plain, Measure::Recovery));
    for part in [0.5, 2.0] {
        let counted = shop(&format!("\nread: {{ frequency: {:.2} Hz }}", part * recovery));
        let found = value(&counted, Measure::Power);
        assert!((found / power - 1.0).abs() < 0.01, "{part}: {found}, not {power}");
    }
}
