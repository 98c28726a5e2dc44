//! Offcuts: what a build tells of what came off it, and what an offcut tells of its build.

use std::sync::Arc;

use taperbook_plugin::View;
use taperbook_record::Measure;
use taperbook_units::Length;

use super::{STATED, Texts, bench_text};
use crate::{Cuts, Piece, piece};

const SHOP: &str = "saws: { fine saw: { kerf: 1 mm } }\n";
const KEPT: &str = "read: { length: 2 m }
    cut: { tip: 20 mm }
    cut: { butt: 301 mm, with: fine saw in a guide, keep: yes }";

fn piece_in(shop: &Texts, id: &str) -> Arc<Piece> {
    piece(&View::new(&shop.0), id).unwrap_or_else(|| panic!("{id} is a piece"))
}

fn offcut(more: &str) -> String {
    format!("---\nkind: offcut\nfrom: x\nend: butt\n{more}---\n")
}

fn value(piece: &Piece, measure: Measure) -> f64 {
    piece.value(measure, Cuts::default(), Length::default()).expect("it can be worked out")
}

/// Diameters by linear interpolation; volume of a frustum less that of its bore, V = π h (a² + a b + b²) / 12 with the end
/// diameters a and b.
#[test]
fn an_offcut_that_nobody_measured_is_computed_from_its_build() {
    let shop = Texts::default()
        .with("shop.yaml", SHOP)
        .with("blanks/stated.md", STATED)
        .with("builds/x.md", &bench_text("", KEPT))
        .with("offcuts/x-butt.md", &offcut(""));
    let offcut = piece_in(&shop, "offcuts/x-butt");
    assert!((value(&offcut, Measure::Length) - 0.300).abs() < 1e-9);
    // It was cut to a mark in the shop, and is known as well as a tape tells.
    assert!(width(&offcut, Measure::Length) * 300.0 < 4.0);
    assert!((value(&offcut, Measure::ButtOd) - 10.0e-3).abs() < 1e-6);
    // 10 mm less 8 mm over 2 m, and 0.8 mm less 0.4 mm of wall.
    assert!((value(&offcut, Measure::TipOd) - 8.8e-3).abs() < 1e-6);
    let frustum = |a: f64, b: f64| std::f64::consts::PI * 0.300 * (a * a + a * b + b * b) / 12.0;
    let volume = frustum(10.0e-3, 8.8e-3) - frustum(8.4e-3, 7.32e-3);
    let weight = value(&offcut, Measure::Weight);
    assert!((weight / (volume * 1550.0) - 1.0).abs() < 2e-3, "{weight} {}", volume * 1550.0);
}

#[test]
fn a_tip_that_was_kept_is_the_last_of_the_blank() {
    let items = "read: { length: 2 m }
        cut: { tip: 250 mm, keep: yes }
        cut: { tip: 100 mm }";
    let text = "---\nkind: offcut\nfrom: builds/x\nend: tip\n---\n";
    let shop = Texts::default()
        .with("blanks/stated.md", STATED)
        .with("builds/x.md", &bench_text("", items))
        .with("offcuts/tip.md", text)
        .with("offcuts/second.md", &text.replace("end: tip", "end: tip\nitem: 3"));
    let first = piece_in(&shop, "offcuts/tip");
    assert!((value(&first, Measure::TipOd) - 2.0e-3).abs() < 1e-6);
    assert!((value(&first, Measure::ButtOd) - 3.0e-3).abs() < 1e-6);
    let second = piece_in(&shop, "offcuts/second");
    assert!((value(&second, Measure::TipOd) - 3.0e-3).abs() < 1e-6);
    assert!((value(&second, Measure::Length) - 0.100).abs() < 1e-9);
}

#[test]
fn what_was_measured_on_it_stays_as_it_was_measured() {
    let measured = "length: 299 mm\ncalipers:\n  - { at: 0 mm, od: 10.1 mm, wall: 0.9 mm }\n  - { at: 299 mm, od: 8.9 mm }\n";
    let shop = Texts::default()
        .with("shop.yaml", SHOP)
        .with("blanks/stated.md", STATED)
        .with("builds/x.md", &bench_text("", KEPT))
        .with("offcuts/x-butt.md", &offcut(measured));
    let offcut = piece_in(&shop, "offcuts/x-butt");
    assert!((value(&offcut, Measure::Length) - 0.299).abs() < 1e-9);
    assert!((value(&offcut, Measure::ButtOd) - 10.1e-3).abs() < 1e-5);
}

/// A card without walls: a build's weight leaves open where the carbon is, and an offcut shows it.
const NO_WALLS: &str = "---
kind: blank
length: 2 m
material: carbon
calipers:
  - { at: 0 mm, od: 10 mm }
  - { at: 2000 mm, od: 2 mm }
---
";

fn width(piece: &Piece, measure: Measure) -> f64 {
    let held = Some(Length::from_mm(228.6));
    let state = piece.state(piece.walk.present().off, held);
    let (value, low, high) = state.get(measure).and_then(|n| n.known()).expect("it is known");
    (high - low) / value
}

#[test]
fn a_wall_and_a_weight_that_were_measured_on_it_teach_the_fit_of_its_build() {
    let with = |more: &str, keep: &str| {
        let items = KEPT.replace("keep: yes", keep);
        let shop = Texts::default()
            .with("shop.yaml", SHOP)
            .with("blanks/stated.md", NO_WALLS)
            .with("builds/x.md", &bench_text("", &items))
            .with("offcuts/x-butt.md", &offcut(more));
        piece_in(&shop, "builds/x")
    };
    let wall = |piece: &Piece| {
        let tube = piece.fitted.as_ref().expect("it is fitted").posterior.tube();
        tube.wall_at(Length::from_mm(150.0)).mm()
    };
    let bare = with("", "keep: yes");
    let shown = with(
        "calipers:\n  - { at: 0 mm, od: 10 mm, wall: 1.2 mm }\n  - { at: 300 mm, od: 8.8 mm, wall: 1.1 mm }\n",
        "keep: yes",
    );
    assert!((wall(&shown) - 1.15).abs() < 0.1, "{} {}", wall(&shown), wall(&bare));
    assert!((wall(&bare) - 1.15).abs() > (wall(&shown) - 1.15).abs());
    assert!(width(&shown, Measure::Power) < width(&bare, Measure::Power));
    let weighed = with("weight: 11 g\n", "keep: yes");
    assert!(width(&weighed, Measure::Weight) < 0.8 * width(&bare, Measure::Weight));
    assert_eq!(weighed.taken.len(), 1);
    // Without `keep` nobody looks for one.
    assert_eq!(with("weight: 11 g\n", "keep: no").taken.len(), 0);
}

#[test]
fn an_offcut_of_another_build_or_of_none_teaches_nothing() {
    let shop = Texts::default()
        .with("blanks/stated.md", NO_WALLS)
        .with("builds/x.md", &bench_text("", KEPT))
        .with("builds/y.md", &bench_text("", KEPT))
        .with("offcuts/y-butt.md", &offcut("weight: 11 g\n").replace("from: x", "from: y"))
        .with("offcuts/lost.md", &offcut("weight: 11 g\n").replace("from: x", "from: nobody"));
    assert_eq!(piece_in(&shop, "builds/x").taken.len(), 0);
    assert_eq!(piece_in(&shop, "builds/y").taken.len(), 1);
    let lost = piece_in(&shop, "offcuts/lost");
    assert!(lost.fitted.is_err(), "nothing is known of it but its weight");
}
