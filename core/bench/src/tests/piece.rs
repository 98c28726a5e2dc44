//! A piece: its card merged with its own diameters, its readings, its model, and what is said when something is missing.

use std::sync::Arc;

use taperbook_mechanics::fit::{Errors, Fibre, Measured};
use taperbook_plugin::View;
use taperbook_record::{Blank, Board, InstrumentErrors, Measure, Shop};
use taperbook_units::{Length, Mass};

use super::{STATED, Texts, bench_text, build, near, read_bench};
use crate::{Cuts, Piece, errors_of, fit_card, fit_readings, piece, setup_of, walk};

fn card(text: &str) -> Blank {
    let parsed = taperbook_record::read("blanks/c.md", text.as_bytes());
    assert!(parsed.problems.is_empty(), "{:?}", parsed.problems);
    parsed.record.card().expect("it is a card").clone()
}

fn stated() -> Blank {
    card(STATED)
}

/// Where the calipers are, their diameters and walls, in mm.
fn merged(card: Option<&Blank>, items: &str) -> Vec<(f64, f64, Option<f64>)> {
    let build = build(items);
    let length = card.and_then(|card| card.length.as_ref()).map(|length| length.value);
    let merged = fit_card(card, Some((&build, &walk(&build, length))), &Errors::default())
        .expect("a length is known");
    let round = |mm: f64| (mm * 1e6).round() / 1e6;
    let calipers = merged.calipers.iter();
    calipers
        .map(|c| (round(c.at.mm()), round(c.od.mm()), c.wall.map(|wall| round(wall.mm()))))
        .collect()
}

#[test]
fn diameters_of_the_piece_come_to_those_of_the_card_from_the_uncut_butt() {
    let items = "read: { length: 2 m }
        cut: { butt: 100 mm }
        read: { calipers: [{ at: 0 mm, od: 9.7 mm }, { at: 900 mm, od: 6.1 mm, wall: 0.6 mm }] }";
    assert_eq!(
        merged(Some(&stated()), items),
        [
            (0.0, 10.0, Some(0.8)),
            (100.0, 9.7, None),
            (1000.0, 6.1, Some(0.6)),
            (2000.0, 2.0, Some(0.4))
        ]
    );
}

#[test]
fn at_one_place_the_pieces_own_diameter_counts_and_the_wall_stays() {
    let items = "read: { length: 2 m, calipers: [{ at: 0 mm, od: 10.2 mm }] }";
    assert_eq!(merged(Some(&stated()), items), [(0.0, 10.2, Some(0.8)), (2000.0, 2.0, Some(0.4))]);
    let items = "read: { length: 2 m, calipers: [{ at: 0.4 mm, od: 10.2 mm, wall: 0.9 mm }] }";
    assert_eq!(merged(Some(&stated()), items), [(0.4, 10.2, Some(0.9)), (2000.0, 2.0, Some(0.4))]);
}

#[test]
fn diameters_read_with_guides_on_are_left_out() {
    let items = "read: { length: 2 m }
        read: { calipers: [{ at: 500 mm, od: 9 mm }], dressed: true }";
    assert_eq!(merged(Some(&stated()), items).len(), 2);
}

#[test]
fn with_too_few_calipers_the_ends_of_the_uncut_piece_stand_in() {
    let items = "read: { length: 2 m, tip_od: 2.1 mm, butt_od: 10.1 mm }
        read: { tip_od: 2.0 mm }
        cut: { tip: 100 mm }
        read: { tip_od: 2.4 mm }";
    assert_eq!(merged(None, items), [(0.0, 10.1, None), (2000.0, 2.0, None)]);
    // Two calipers are enough: the ends are readings then.
    assert_eq!(merged(Some(&stated()), items)[1], (2000.0, 2.0, Some(0.4)));
}

/// The diameter at the tip of a shorter piece lies on the line to the caliper beyond it, however far beyond that is.
#[test]
fn a_caliper_beyond_the_tip_of_a_shorter_piece_counts() {
    let tip = |length: f64| {
        let items = format!("read: {{ length: {length} mm }}");
        let shop = Texts::default()
            .with("blanks/stated.md", STATED)
            .with("builds/short.md", &bench_text("", &items));
        let short = piece(&View::new(&shop.0), "builds/short").expect("it is a build");
        let value = |measure| short.value(measure, Cuts::default(), Length::from_mm(200.0));
        (value(Measure::TipOd).expect("it is known"), value(Measure::Weight).expect("likewise"))
    };
    // STATED goes from 10 mm to 2 mm over 2 m.
    for length in [1990.0, 1945.0, 1940.0, 1900.0, 1600.0] {
        let (tip_od, _) = tip(length);
        assert!((tip_od * 1e3 - (10.0 - 0.004 * length)).abs() < 1e-6, "{length}: {tip_od}");
    }
    // The wall comes along: nothing jumps where the caliper is further beyond than a piece mostly is shorter.
    let (near, far) = (tip(1942.0).1, tip(1941.0).1);
    assert!((near / far - 1.0).abs() < 1e-3, "{near} {far}");
    let card =
        card(&STATED.replace("  - { at: 2000", "  - { at: 1900 mm, od: 2.4 mm }\n  - { at: 2000"));
    let shorter = merged(Some(&card), "read: { length: 1900 mm }");
    assert_eq!(shorter, [(0.0, 10.0, Some(0.8)), (1900.0, 2.4, None)]);
}

/// A card has one weight for all its pieces, and the scale knows this one.
#[test]
fn the_weight_that_a_card_states_does_not_pull_a_piece_that_was_weighed() {
    let weight = |card: &str, items: &str| {
        let card = STATED.replace("density: 1550 kg/m3\n", card);
        let shop = Texts::default()
            .with("blanks/stated.md", &card)
            .with("builds/z.md", &bench_text("", items));
        let piece = piece(&View::new(&shop.0), "builds/z").expect("it is a build");
        piece.value(Measure::Weight, Cuts::default(), Length::default()).expect("it is known")
    };
    let weighed = "read: { length: 2 m, weight: 35 g }";
    assert_eq!(weight("weight: 38 g\n", weighed), weight("", weighed));
    // A slip of ten grams is held against it all the same.
    let slip = "read: { length: 2 m, weight: 45 g }";
    assert_ne!(weight("weight: 36 g\n", slip), weight("", slip));
    // Where nobody weighed it, the card is all that tells.
    let not = "read: { length: 2 m }";
    assert!(weight("", not) + 5e-4 < weight("weight: 38 g\n", not));
}

#[test]
fn the_piece_is_as_long_as_it_was_read_and_made_of_what_the_card_says() {
    let build = build("read: { length: 1999 mm }");
    let walk = walk(&build, Some(Length::from_m(2.0)));
    let merged = fit_card(Some(&stated()), Some((&build, &walk)), &Errors::default())
        .expect("a length is known");
    near(merged.length, 1999.0 / 25.4);
    assert_eq!(merged.fibre, Fibre::Carbon);
    assert_eq!(merged.modulus.map(|modulus| modulus.gpa().round()), Some(90.0));
    assert!(!merged.solid_tip);
    let solid = card("---\nkind: blank\nlength: 2 m\nmaterial: glass\ntip: solid\n---\n");
    let merged = fit_card(Some(&solid), None, &Errors::default()).expect("a length is known");
    assert!(merged.solid_tip);
    assert_eq!(merged.fibre, Fibre::Glass);
    assert_eq!(fit_card(None, None, &Errors::default()), None);
}

#[test]
fn the_shops_errors_count_and_the_usual_ones_stand_in() {
    let usual = Errors::default();
    assert_eq!(errors_of(&Shop::default()), usual);
    let stated = InstrumentErrors {
        caliper: Some(Length::from_mm(0.02)),
        scale: Some(Mass::from_g(0.1)),
        ..InstrumentErrors::default()
    };
    let errors = errors_of(&Shop { errors: stated, ..Shop::default() });
    assert_eq!(
        (errors.caliper_od, errors.caliper_tip_od),
        (Length::from_mm(0.02), Length::from_mm(0.04))
    );
    assert_eq!((errors.scale, errors.reclamp), (Mass::from_g(0.1), usual.reclamp));
}

#[test]
fn the_board_and_how_an_angle_was_read_go_along() {
    let build = build(
        "read: { length: 2 m, power: 300 g, tip_angle: 62 deg, board: window }
        read: { tip_angle: 63 deg, angle_by: instrument }",
    );
    let board = |name: &str| Board { name: name.to_owned(), ..Board::default() };
    let shop = Shop { boards: vec![board("long wall"), board("window")], ..Shop::default() };
    let walk = walk(&build, None);
    let taken = fit_readings(&build, &walk, Some(Length::from_mm(200.0)), &shop);
    let of = |at: usize| (taken[at].reading.setup, taken[at].reading.sd);
    assert_eq!(of(0), (setup_of(&shop, Some("window")), None));
    assert_eq!(of(1), of(0), "by eye");
    assert_eq!(of(2).0, setup_of(&shop, None), "the first is meant where nobody says which");
    assert_ne!(of(2).0, of(0).0);
    assert!((of(2).1.unwrap().to_degrees() - 0.5).abs() < 1e-9);
}

#[test]
fn a_length_that_was_read_is_surer_than_the_makers_and_joints_come_along() {
    let card = card(
        "---\nkind: blank\nlength: 2 m\npieces: 2\njoints: [{ at: 1 m, type: ferrule, overlap: 70 mm }, { at: 1.5 m }]\n---\n",
    );
    let errors = Errors::default();
    let sd = |items: &str| {
        let build = build(items);
        let walk = walk(&build, Some(Length::from_m(2.0)));
        fit_card(Some(&card), Some((&build, &walk)), &errors).unwrap().length_sd
    };
    assert_eq!(sd("read: { power: 300 g }"), None);
    assert_eq!(sd("read: { length: 2 m }"), Some(errors.length));
    assert_eq!(sd("cut: { tip: 20 mm }\n read: { length: 1980 mm }"), Some(errors.length));
    let joints = fit_card(Some(&card), None, &errors).unwrap().joints;
    let mm: Vec<(f64, f64)> =
        joints.iter().map(|joint| (joint.at.mm(), joint.overlap.mm().round())).collect();
    assert_eq!(mm, [(1000.0, 70.0), (1500.0, 60.0)]);
}

#[test]
fn readings_are_of_the_piece_as_it_then_was() {
    let build = build(
        "read: { length: 2 m, weight: 90 g, power: 300 g }
        cut: { tip: 50 mm, butt: 30 mm }
        read: { power: 320 g, held_at: 250 mm }
        read: { power: 400 g, weight: 120 g, dressed: true }
        pull: { tip_angle: 90 deg, load: 500 g }",
    );
    let walk = walk(&build, None);
    let taken = fit_readings(&build, &walk, Some(Length::from_mm(200.0)), &Shop::default());
    let items: Vec<(usize, Option<Measure>)> =
        taken.iter().map(|taken| (taken.item, taken.measure)).collect();
    let expected = [
        (0, Some(Measure::Weight)),
        (0, Some(Measure::Power)),
        (2, Some(Measure::Power)),
        (4, None),
    ];
    assert_eq!(items, expected);
    assert_eq!(taken[1].reading.tip_cut, Length::default());
    near(taken[2].reading.tip_cut, 50.0 / 25.4);
    near(taken[2].reading.butt_cut, 30.0 / 25.4);
    near(taken[2].reading.held_at, 250.0 / 25.4);
    assert_eq!(taken[2].reading.measured, Measured::Power(Mass::from_g(320.0)));
    // What does not bend needs no place to hold it at.
    let taken = fit_readings(&build, &walk, None, &Shop::default());
    let items: Vec<usize> = taken.iter().map(|taken| taken.item).collect();
    assert_eq!(items, [0, 2]);
}

fn piece_in(shop: &Texts, id: &str) -> Arc<Piece> {
    piece(&View::new(&shop.0), id).expect("it is a build or a card")
}

fn missing(piece: &Piece, measure: Measure) -> String {
    let state = piece.state(piece.walk.present().off, piece.held_at);
    format!("{:?}", state.get(measure).expect("every measure is there"))
}

#[test]
fn after_a_cut_of_unknown_size_nothing_is_computed() {
    let parsed = read_bench(
        "read: { length: 2 m, power: 300 g }\ncut: { tip: 1,5 in }\nread: { power: 900 g }",
    );
    let mut shop = Texts::default().with("blanks/stated.md", STATED);
    shop.0.put(parsed.record.clone());
    let piece = piece_in(&shop, "builds/x");
    assert_eq!(
        piece.fitted.as_ref().err().map(String::as_str),
        Some("item 2 of the bench is a cut of unknown size: write how much came off")
    );
    assert_eq!(piece.value(Measure::Length, Cuts::default(), Length::default()), None);
    assert_eq!(piece.taken.len(), 0, "nothing was said of where it is held");
    let build = parsed.record.build().expect("it is a build");
    let taken = fit_readings(build, &piece.walk, Some(Length::from_mm(200.0)), &Shop::default());
    assert_eq!(taken.len(), 1, "what was read after the cut is of another piece");
}

#[test]
fn what_is_missing_is_said() {
    let shop = Texts::default()
        .with("blanks/bare.md", "---\nkind: blank\nmaterial: carbon\n---\n")
        .with("blanks/stated.md", STATED)
        .with("builds/no-length.md", &bench_text("", "feel: soft").replace("stated", "bare"))
        .with(
            "builds/no-calipers.md",
            &bench_text("", "read: { length: 2 m }").replace("stated", "bare"),
        )
        .with("builds/not-held.md", &bench_text("", "read: { length: 2 m }"))
        .with("notes/n.md", "# A note\n");
    let no_length = piece_in(&shop, "builds/no-length");
    assert_eq!(
        no_length.fitted.as_ref().err().map(String::as_str),
        Some("measure the length of the uncut blank")
    );
    let no_calipers = piece_in(&shop, "builds/no-calipers");
    assert_eq!(
        no_calipers.fitted.as_ref().err().map(String::as_str),
        Some("0 of the two diameters needed: measure the diameter at two places or more")
    );
    let length = no_calipers.value(Measure::Length, Cuts::default(), Length::default());
    assert_eq!(length, Some(2.0), "lengths need no diameters");
    let held = missing(&piece_in(&shop, "builds/not-held"), Measure::Power);
    assert!(held.contains("say where it is held"), "{held}");
    assert!(piece(&View::new(&shop.0), "notes/n").is_none());
    assert!(piece(&View::new(&shop.0), "builds/nobody").is_none());
}

#[test]
fn where_it_is_held_comes_from_the_build_then_the_card_then_the_shop() {
    let held = |more: &str, card_too: bool| {
        let card = if card_too {
            STATED.replace("length: 2 m", "length: 2 m\nheld_at: 300 mm")
        } else {
            STATED.to_owned()
        };
        let shop = Texts::default()
            .with("blanks/stated.md", &card)
            .with("shop.yaml", "name: a bench\nheld_at: 400 mm\n")
            .with("builds/x.md", &bench_text(more, "read: { length: 2 m }"));
        piece_in(&shop, "builds/x").held_at.map(|held| held.mm().round())
    };
    assert_eq!(held("held_at: 200 mm\n", true), Some(200.0));
    assert_eq!(held("", true), Some(300.0));
    assert_eq!(held("", false), Some(400.0));
}

/// The other pieces of a model sharpen the prior of a piece, its own readings never do.
#[test]
fn past_pieces_of_the_model_stand_behind_a_piece_but_not_itself() {
    let card = STATED.replace("modulus: 90 GPa\n", "");
    let read = "read: { length: 2 m, power: 600 g }";
    let mut shop = Texts::default()
        .with("blanks/stated.md", &card)
        .with("builds/fresh.md", &bench_text("held_at: 200 mm\n", "read: { length: 2 m }"));
    let deviation = |shop: &Texts| {
        let piece = piece_in(shop, "builds/fresh");
        let fitted = piece.fitted.as_ref().expect("it can be computed");
        let outcome =
            piece.outcome(Cuts::default(), Length::from_mm(200.0)).expect("it can be computed");
        let power = piece.value(Measure::Power, Cuts::default(), Length::from_mm(200.0));
        let power = power.expect("it can be computed");
        (fitted.n_past, crate::limits::deviation(&outcome, Measure::Power) / power)
    };
    let (n_alone, alone) = deviation(&shop);
    for name in ["a", "b", "c"] {
        shop = shop.with(&format!("builds/{name}.md"), &bench_text("held_at: 200 mm\n", read));
    }
    let (n_past, with_past) = deviation(&shop);
    assert_eq!((n_alone, n_past), (0, 3));
    assert!(with_past < 0.5 * alone, "{with_past} after {alone}");
    assert_eq!(piece_in(&shop, "builds/a").fitted.as_ref().expect("it can be computed").n_past, 2);
    assert_eq!(
        piece_in(&shop, "blanks/stated").fitted.as_ref().expect("it can be computed").n_past,
        3
    );
}

#[test]
fn a_reading_that_is_left_out_counts_for_nothing() {
    let card = STATED.replace("modulus: 90 GPa\n", "");
    let read = "read: { length: 2 m, weight: 32 g, power: 400 g }";
    let shop = |items: &str| {
        Texts::default()
            .with("blanks/stated.md", &card)
            .with("builds/x.md", &bench_text("held_at: 200 mm\n", items))
    };
    let both = piece_in(&shop(read), "builds/x");
    let weight_alone = piece_in(&shop("read: { length: 2 m, weight: 32 g }"), "builds/x");
    let power = |posterior: &taperbook_mechanics::fit::Posterior| {
        let held_at = Length::from_mm(200.0);
        let outcome = posterior
            .outcome(Length::default(), Length::default(), held_at)
            .expect("it is a piece");
        outcome.value(crate::to_mechanics(Measure::Power)).expect("it bends")
    };
    let fitted = both.fitted.as_ref().expect("it can be computed");
    let without = fitted.without(&[1]).expect("it can be computed");
    let alone = &weight_alone.fitted.as_ref().expect("it can be computed").posterior;
    assert!(
        (power(&without) / power(alone) - 1.0).abs() < 1e-6,
        "{} {}",
        power(&without),
        power(alone)
    );
    assert!(1.05 < power(&fitted.posterior) / power(alone), "the reading had a say");
    let expected = without.residuals()[1].predicted.expect("it bends");
    assert!((expected / power(alone) - 1.0).abs() < 0.1, "what all else leads to expect of it");
}

#[test]
fn one_wild_reading_does_not_drag_the_fit() {
    let shop = |items: &str| {
        Texts::default()
            .with("blanks/stated.md", STATED)
            .with("builds/x.md", &bench_text("held_at: 200 mm\n", items))
    };
    let clean = "read: { length: 2 m, weight: 32 g, tip_angle: 60 deg }";
    let wild = "read: { length: 2 m, weight: 32 g, tip_angle: 60 deg, power: 5000 g }";
    let (clean, wild) = (piece_in(&shop(clean), "builds/x"), piece_in(&shop(wild), "builds/x"));
    let power =
        |piece: &Piece| piece.value(Measure::Power, Cuts::default(), Length::from_mm(200.0));
    let (clean, dragged) = (power(&clean).expect("it bends"), power(&wild).expect("it bends"));
    assert!((dragged / clean - 1.0).abs() < 1e-3, "{dragged} {clean}");
    assert!(wild.is_stray(0, Measure::Power) && !wild.is_stray(0, Measure::Weight));
    let fitted = wild.fitted.as_ref().expect("it can be computed");
    let contradicts = fitted.all.residuals().iter().any(|residual| 4.0 < residual.miss.abs());
    assert!(contradicts, "it still shows as a contradiction");
}

#[test]
fn a_point_that_no_blank_can_reach_is_no_reading() {
    let items =
        "read: { length: 2 m, board: [{ load: 200 g, points: [[400 mm, -12 mm], [5 m, 5 m]] }] }";
    let build = build(items);
    let walk = walk(&build, None);
    assert_eq!(
        fit_readings(&build, &walk, Some(Length::from_mm(200.0)), &Shop::default()).len(),
        1
    );
}

#[test]
fn a_piece_whose_readings_contradict_each_other_teaches_its_model_nothing() {
    let wild = "read: { length: 2 m, power: 90 g }\nread: { power: 900 g }\nread: { power: 91 g }\nread: { power: 910 g }\nread: { power: 92 g }\nread: { power: 920 g }";
    let shop = Texts::default()
        .with("blanks/stated.md", STATED)
        .with("builds/wild.md", &bench_text("held_at: 200 mm\n", wild))
        .with("builds/x.md", &bench_text("held_at: 200 mm\n", "read: { length: 2 m }"));
    assert_eq!(piece_in(&shop, "builds/x").fitted.as_ref().expect("it can be computed").n_past, 0);
}

#[test]
fn a_model_never_cut_learns_from_others_of_its_material() {
    let loose = STATED.replace("modulus: 90 GPa\ndensity: 1550 kg/m3\n", "");
    let power = |shop: &Texts| {
        let piece = piece_in(shop, "blanks/new");
        let outcome = piece.outcome(Cuts::default(), Length::from_mm(200.0)).expect("it bends");
        outcome.estimate(taperbook_mechanics::fit::Measure::Power).expect("it has a power")
    };
    let alone = power(&Texts::default().with("blanks/new.md", &loose));
    // Four models that all turn out half as stiff again as carbon usually is.
    let mut shop = Texts::default().with("blanks/new.md", &loose);
    for model in ["a", "b", "c", "d"] {
        let grams = 1.5e3 * alone.value;
        let items = format!("read: {{ length: 2 m, power: {grams:.0} g, tip_angle: 60 deg }}");
        let build = bench_text("held_at: 200 mm\n", &items)
            .replace("blank: stated", &format!("blank: {model}"));
        shop = shop
            .with(&format!("blanks/{model}.md"), &loose)
            .with(&format!("builds/{model}.md"), &build);
    }
    let learned = power(&shop);
    assert!(
        1.1 * alone.value < learned.value && learned.value < 1.5 * alone.value,
        "{alone:?} {learned:?}"
    );
    assert!(learned.high / learned.low < alone.high / alone.low, "{alone:?} {learned:?}");
    // One that states its modulus is believed, and glass is not carbon.
    for other in [STATED.to_owned(), loose.replace("carbon", "glass")] {
        let by_itself = power(&Texts::default().with("blanks/new.md", &other));
        assert_eq!(power(&shop_with_new(&other, &loose, alone.value)), by_itself);
    }
}

fn shop_with_new(new: &str, others: &str, kg: f64) -> Texts {
    let items = format!("read: {{ length: 2 m, power: {:.0} g }}", 1.5e3 * kg);
    let build = bench_text("held_at: 200 mm\n", &items).replace("blank: stated", "blank: a");
    Texts::default()
        .with("blanks/new.md", new)
        .with("blanks/a.md", others)
        .with("builds/a.md", &build)
}
