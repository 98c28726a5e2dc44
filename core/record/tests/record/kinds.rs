//! Every kind of record, read without a problem, value by value.

use taperbook_record::{
    Action, Content, Date, End, Kind, Material, Measure, Parsed, Part, TipKind, Verdict,
};
use taperbook_units::{Angle, Density, Length, Mass, Pressure, Units};

use crate::parse;

#[track_caller]
fn clean(path: &str, text: &str) -> Parsed {
    let parsed = parse(path, text);
    assert_eq!(parsed.problems, []);
    parsed
}

const BLANK: &str = "---
kind: blank                 # a blank card
maker: Northfell            # invented
length: 7'2\"
pieces: 1
material: carbon            # carbon | glass | blend
tip: tubular                # tubular | solid (spliced)
weight: 46 g
calipers:                   # measured from the butt
  - { at: 0 in, od: 11.20 mm, wall: 1.05 mm }
  - { at: 86 in, od: 1.75 mm }
  - { at: 30 in, od: 8.4 mm }
modulus: 95 GPa             # optional, as is density: for those who know
density: 1550 kg/m3
spine: 40 deg from the label
joints: [{ at: 43 in, type: ferrule, overlap: 3 in }]
held_at: 9 in
stock: 0
---
";

const BUILD: &str = "---
kind: build
blank: heron-704
customer: Ilse
purpose: small spoons for sea trout from the rocks of an estuary
date: 2026-03-14
held_at: 9 in
limits: { length: 6'8\" .. 7'0\", tip_od: .. 2.2 mm, power: 200 g .. 260 g }
aim: { length: 6'10\", power: 235 g }
bench:
  - read: { length: 7'2\", tip_od: 1.75 mm, weight: 46 g, power: 212 g, tip_angle: 66 deg }
  - plan: { tip: 2 in, butt: 3 in }
  - cut: { tip: 1 in, with: rotary disc, date: 2026-03-15 }
  - read: { power: 224 g }
  - pull: { tip_angle: 90 deg, load: 410 g }      # a hand pull or spring scale on the board
  - feel: loads early, still throws straight
  - settled: { tip: any stiffer and it won't throw the small spoons }
  - cut: { butt: 3 in, with: fine saw in a guide }
  - read: { length: 6'10\", power: 221 g, held_at: 9 in }
verdict: keep               # keep | recut | scrap
rating: 4                   # 1..5
told: 2026-03-20 agreed to 6'10\" by phone
---
What it felt like, in the builder's own words.
";

const FITTING: &str = "---
kind: fitting
part: tip-top               # tip-top | butt-ferrule | reel-seat | guide
sizes:                      # what is in the drawer: the marked size and, better, the measured bore
  - { marked: 5.5/64 in, bore: 2.25 mm, ring: 6 mm, count: 4 }
adds: { length: 8 mm, weight: 0.6 g }
---
";

#[test]
fn a_blank_card() {
    let parsed = clean("blanks/heron-704.md", BLANK);
    let Content::Blank(blank) = &parsed.record.content else { panic!("{:?}", parsed.record) };
    assert_eq!(blank.maker.as_ref().map(|maker| maker.value.as_str()), Some("Northfell"));
    assert_eq!(blank.length.as_ref().map(|length| length.value), Some(Length::from_inches(86.0)));
    assert_eq!(blank.pieces.as_ref().map(|pieces| pieces.value), Some(1));
    assert_eq!(blank.material.as_ref().map(|material| material.value), Some(Material::Carbon));
    assert_eq!(blank.tip.as_ref().map(|tip| tip.value), Some(TipKind::Tubular));
    assert_eq!(blank.weight.as_ref().map(|weight| weight.value), Some(Mass::from_g(46.0)));
    assert_eq!(blank.modulus.as_ref().map(|modulus| modulus.value), Some(Pressure::from_gpa(95.0)));
    assert_eq!(
        blank.density.as_ref().map(|density| density.value),
        Some(Density::from_kg_per_m3(1550.0))
    );
    assert_eq!(blank.held_at.as_ref().map(|held_at| held_at.value), Some(Length::from_inches(9.0)));
    assert_eq!(blank.stock.as_ref().map(|stock| stock.value), Some(0), "none is not unknown");
    let spine = &blank.spine.as_ref().expect("it is read").value;
    assert_eq!((spine.angle, spine.from.as_deref()), (Angle::from_deg(40.0), Some("the label")));
    let joint = &blank.joints[0];
    assert_eq!((joint.at, joint.form.as_deref()), (Length::from_inches(43.0), Some("ferrule")));
    assert_eq!(joint.overlap, Some(Length::from_inches(3.0)));
}

#[test]
fn calipers_come_in_the_order_of_their_distance() {
    let parsed = clean("blanks/heron-704.md", BLANK);
    let card = parsed.record.card().expect("it is a card");
    let at: Vec<Length> = card.calipers.iter().map(|caliper| caliper.at).collect();
    assert_eq!(at, [0.0, 30.0, 86.0].map(Length::from_inches));
    assert_eq!(card.calipers[0].wall, Some(Length::from_mm(1.05)));
    assert_eq!(card.calipers[1].wall, None, "missing is never zero");
    assert_eq!(&BLANK[card.calipers[2].span.clone()], "- { at: 86 in, od: 1.75 mm }");
}

#[test]
fn a_build() {
    let parsed = clean("builds/ilse.md", BUILD);
    let build = parsed.record.build().expect("it is a build");
    assert_eq!(build.blank.as_ref().map(|blank| blank.value.as_str()), Some("heron-704"));
    assert_eq!(build.customer.as_ref().map(|customer| customer.value.as_str()), Some("Ilse"));
    assert_eq!(
        build.purpose.as_ref().map(|purpose| purpose.value.as_str()),
        Some("small spoons for sea trout from the rocks of an estuary")
    );
    assert_eq!(build.date.as_ref().map(|date| date.value), Some(Date::constant(2026, 3, 14)));
    assert_eq!(build.held_at.as_ref().map(|held_at| held_at.value), Some(Length::from_inches(9.0)));
    assert_eq!(build.verdict.as_ref().map(|verdict| verdict.value), Some(Verdict::Keep));
    assert_eq!(build.rating.as_ref().map(|rating| rating.value), Some(4));
    assert_eq!(
        build.told.as_ref().map(|told| told.value.as_str()),
        Some("2026-03-20 agreed to 6'10\" by phone")
    );
}

#[test]
fn limits_and_aim_of_a_build() {
    let parsed = clean("builds/ilse.md", BUILD);
    let build = parsed.record.build().expect("it is a build");
    let limits: Vec<(Measure, Option<f64>, Option<f64>)> = (build.limits.iter())
        .map(|limit| {
            (limit.measure, limit.range.low.map(|low| low.si), limit.range.high.map(|high| high.si))
        })
        .collect();
    assert_eq!(
        limits,
        [
            (
                Measure::Length,
                Some(Length::from_inches(80.0).si()),
                Some(Length::from_inches(84.0).si())
            ),
            (Measure::TipOd, None, Some(Length::from_mm(2.2).si())),
            (Measure::Power, Some(0.2), Some(0.26)),
        ]
    );
    assert_eq!(&BUILD[build.limits[1].span.clone()], ".. 2.2 mm");
    let aim: Vec<(Measure, f64)> =
        build.aim.iter().map(|(measure, aim)| (*measure, aim.value.si)).collect();
    assert_eq!(aim, [(Measure::Length, Length::from_inches(82.0).si()), (Measure::Power, 0.235)]);
}

#[test]
fn every_measure_can_be_limited() {
    let lines = "limits: { length: 1 m .., free_length: 1 m .., tip_od: .. 2 mm, butt_od: .. 9 mm, weight: .. 46 g, balance: .. 30 in, power: 200 g .., stiffness_for_length: 0.9 .. 1.1, tip_angle: 60 deg .., bend_centre: 20 % .. 40 %, frequency: 5 Hz .. }";
    let parsed = clean("builds/ilse.md", &crate::build_text(lines));
    let build = parsed.record.build().expect("it is a build");
    let measures: Vec<Measure> = build.limits.iter().map(|limit| limit.measure).collect();
    assert_eq!(measures, Measure::ALL);
}

#[test]
fn a_bench() {
    let parsed = clean("builds/ilse.md", BUILD);
    let bench = &parsed.record.build().expect("it is a build").bench;
    assert_eq!(bench.len(), 9);
    let Action::Read(read) = &bench[0].action else { panic!("{:?}", bench[0]) };
    assert_eq!(read.length.as_ref().map(|length| length.value), Some(Length::from_inches(86.0)));
    assert_eq!(read.tip_od.as_ref().map(|od| od.value), Some(Length::from_mm(1.75)));
    assert_eq!(read.weight.as_ref().map(|weight| weight.value), Some(Mass::from_g(46.0)));
    assert_eq!(read.power.as_ref().map(|power| power.value), Some(Mass::from_g(212.0)));
    assert_eq!(read.tip_angle.as_ref().map(|angle| angle.value), Some(Angle::from_deg(66.0)));
    assert!(!read.dressed && read.held_at.is_none() && read.butt_od.is_none());
    let Action::Plan(plan) = &bench[1].action else { panic!("{:?}", bench[1]) };
    assert_eq!(plan.butt.as_ref().map(|butt| butt.value), Some(Length::from_inches(3.0)));
    let Action::Cut(cut) = &bench[2].action else { panic!("{:?}", bench[2]) };
    assert_eq!(cut.tip.as_ref().map(|tip| tip.value), Some(Length::from_inches(1.0)));
    assert_eq!(
        (cut.butt.as_ref(), cut.with.as_deref(), cut.keep, cut.unread),
        (None, Some("rotary disc"), false, false)
    );
    assert_eq!(bench[2].date, Some(Date::constant(2026, 3, 15)));
    let Action::Pull(pull) = &bench[4].action else { panic!("{:?}", bench[4]) };
    assert_eq!(pull.load.as_ref().map(|load| load.value), Some(Mass::from_g(410.0)));
    assert_eq!(bench[5].action, Action::Feel("loads early, still throws straight".to_owned()));
    let Action::Settled(settled) = &bench[6].action else { panic!("{:?}", bench[6]) };
    assert_eq!(
        settled.tip.as_ref().map(|tip| tip.value.as_str()),
        Some("any stiffer and it won't throw the small spoons")
    );
    assert_eq!(settled.butt, None);
    assert_eq!(&BUILD[bench[5].span.clone()], "- feel: loads early, still throws straight");
}

#[test]
fn what_stands_beside_an_action() {
    let lines = "bench:
  - read: { power: 212 g, dressed: true, board: long board, date: 2026-03-14 }
    note: windy
  - cut: { butt: 1 in, keep: yes, note: taped }
    date: 2026-03-15
  - read:
      frequency: 5.6 Hz
      calipers: [{ at: 2 in, od: 11 mm }]
      board:
        - { load: 200 g, points: [[400 mm, -12 mm], [800 mm, -60 mm]] }
    board: short board";
    let parsed = clean("builds/ilse.md", &crate::build_text(lines));
    let bench = &parsed.record.build().expect("it is a build").bench;
    let Action::Read(read) = &bench[0].action else { panic!("{:?}", bench[0]) };
    assert!(read.dressed);
    assert_eq!(
        (bench[0].note.as_deref(), bench[0].board.as_deref()),
        (Some("windy"), Some("long board"))
    );
    assert_eq!(bench[0].date, Some(Date::constant(2026, 3, 14)));
    let Action::Cut(cut) = &bench[1].action else { panic!("{:?}", bench[1]) };
    assert!(cut.keep);
    assert_eq!(
        (bench[1].note.as_deref(), bench[1].date),
        (Some("taped"), Some(Date::constant(2026, 3, 15)))
    );
    let Action::Read(read) = &bench[2].action else { panic!("{:?}", bench[2]) };
    assert_eq!(read.frequency.as_ref().map(|frequency| frequency.value.hz()), Some(5.6));
    assert_eq!(read.calipers.len(), 1);
    assert_eq!(read.board[0].load, Mass::from_g(200.0));
    assert_eq!(read.board[0].points[1], (Length::from_mm(800.0), Length::from_mm(-60.0)));
    assert_eq!(bench[2].board.as_deref(), Some("short board"));
}

#[test]
fn recovery_is_another_word_for_frequency() {
    let parsed =
        clean("builds/ilse.md", &crate::build_text("bench:\n  - read: { recovery: 5.6 Hz }"));
    let bench = &parsed.record.build().expect("it is a build").bench;
    assert!(matches!(&bench[0].action, Action::Read(read) if read.frequency.is_some()));
}

#[test]
fn a_fitting() {
    let parsed = clean("fittings/tip-tops.md", FITTING);
    let Content::Fitting(fitting) = &parsed.record.content else { panic!("{:?}", parsed.record) };
    assert_eq!(fitting.part.as_ref().map(|part| part.value), Some(Part::TipTop));
    let size = &fitting.sizes[0];
    assert_eq!(size.marked, Some(Length::from_inches(5.5 / 64.0)));
    assert_eq!(
        (size.bore, size.ring, size.count),
        (Some(Length::from_mm(2.25)), Some(Length::from_mm(6.0)), Some(4))
    );
    assert_eq!(fitting.adds_length.as_ref().map(|length| length.value), Some(Length::from_mm(8.0)));
    assert_eq!(fitting.adds_weight.as_ref().map(|weight| weight.value), Some(Mass::from_g(0.6)));
}

#[test]
fn an_offcut() {
    let text = "---\nkind: offcut\nfrom: ilse\nend: butt\nlength: 3 in\nweight: 5 g\ncalipers: [{ at: 0 in, od: 11.2 mm, wall: 1 mm }]\n---\n";
    let parsed = clean("offcuts/ilse-butt.md", text);
    let Content::Offcut(offcut) = &parsed.record.content else { panic!("{:?}", parsed.record) };
    assert_eq!(offcut.from.as_ref().map(|from| from.value.as_str()), Some("ilse"));
    assert_eq!(offcut.end.as_ref().map(|end| end.value), Some(End::Butt));
    assert_eq!(parsed.record.card().map(|card| card.calipers.len()), Some(1));
}

#[test]
fn the_shop() {
    let text = "name: the rod shed
units: millimetres
held_at: 230 mm
boards: { long board: { clamp: vice, tilt: 0.5 deg }, short board: { clamp: vice, tilt: -0.2 deg } }
clamps: { vice: { gives: 0.4 deg, note: rubber jaws } }
errors: { caliper: 0.03 mm, caliper_at_tip: 0.06 mm, wall: 0.05 mm, length: 1 mm, stated_length: 8 mm, scale: 0.5 g, balance: 3 mm, board_drop: 3 mm, reclamp: 2 %, tip_angle: 1.5 deg, tip_angle_by_instrument: 0.5 deg, pull: 15 %, frequency: 0.5 %, tilt: 0.5 deg, saw: 0.5 mm }
allowances: { tip_top: 0.05 mm .. 0.15 mm, butt: 0.1 mm .. 0.3 mm, lacquer: 0.05 mm }
saws: { rotary disc: { kerf: 0.6 mm }, fine saw: 1 mm }
";
    let parsed = clean("shop.yaml", text);
    let Content::Shop(shop) = &parsed.record.content else { panic!("{:?}", parsed.record) };
    assert_eq!(parsed.record.id, "shop.yaml");
    assert_eq!(shop.units.as_ref().map(|units| units.value), Some(Units::Millimetres));
    assert_eq!(shop.held_at.as_ref().map(|held_at| held_at.value), Some(Length::from_mm(230.0)));
    assert_eq!(shop.boards.len(), 2);
    assert_eq!(
        (shop.boards[0].name.as_str(), shop.boards[0].clamp.as_deref()),
        ("long board", Some("vice"))
    );
    assert_eq!(shop.boards[1].tilt, Some(Angle::from_deg(-0.2)));
    assert_eq!(shop.clamps[0].note.as_deref(), Some("rubber jaws"));
    assert_eq!(shop.clamps[0].gives, Some(Angle::from_deg(0.4)));
    assert_eq!(shop.errors.caliper, Some(Length::from_mm(0.03)));
    assert_eq!(shop.errors.reclamp, Some(0.02));
    assert_eq!(shop.errors.caliper_at_tip, Some(Length::from_mm(0.06)));
    assert_eq!(shop.errors.stated_length, Some(Length::from_mm(8.0)));
    assert_eq!(shop.errors.balance, Some(Length::from_mm(3.0)));
    assert_eq!(shop.errors.tip_angle_by_instrument, Some(Angle::from_deg(0.5)));
    assert_eq!(shop.errors.pull, Some(0.15));
    assert_eq!(shop.errors.frequency, Some(0.005));
    assert_eq!(shop.errors.saw, Some(Length::from_mm(0.5)));
    assert_eq!(shop.allowances.tip_top, Some((Length::from_mm(0.05), Length::from_mm(0.15))));
    assert_eq!(shop.allowances.lacquer, Some(Length::from_mm(0.05)));
    let saws: Vec<(&str, Option<Length>)> =
        shop.saws.iter().map(|saw| (saw.name.as_str(), saw.kerf)).collect();
    assert_eq!(
        saws,
        [("rotary disc", Some(Length::from_mm(0.6))), ("fine saw", Some(Length::from_mm(1.0)))]
    );
}

#[test]
fn the_shops_things_as_a_list() {
    let text = "boards:\n  - name: long board\n    clamp: vice\n  - short board\nsaws:\n  - { name: fine saw, kerf: 1 mm }\n";
    let parsed = clean("shop.yaml", text);
    let Content::Shop(shop) = &parsed.record.content else { panic!("{:?}", parsed.record) };
    assert_eq!(
        shop.boards.iter().map(|board| board.name.as_str()).collect::<Vec<_>>(),
        ["long board", "short board"]
    );
    assert_eq!(shop.saws[0].kerf, Some(Length::from_mm(1.0)));
}

#[test]
fn a_note() {
    let parsed = clean("notes/dust.md", "# Dust\n\nCatch it wet.\n");
    assert_eq!((parsed.record.kind(), parsed.record.title.as_str()), (Kind::Note, "Dust"));
    assert_eq!(parsed.fields, []);
}

#[test]
fn names() {
    for (path, id, stem) in [
        ("builds/ilse.md", "builds/ilse", "ilse"),
        ("builds/ilse", "builds/ilse", "ilse"),
        ("./builds/ilse.MD", "builds/ilse", "ilse"),
        ("é.md", "é", "é"),
        ("md", "md", "md"),
        ("", "", ""),
        ("a/shop.yaml", "a/shop.yaml", "shop.yaml"),
    ] {
        let record = parse(path, "").record;
        assert_eq!((record.id.as_str(), record.stem()), (id, stem), "{path}");
        assert_eq!(record.kind(), Kind::Note);
    }
}

#[test]
fn conflict_copies() {
    for stem in [
        "ilse (conflicted copy 2026-03-14)",
        "ilse (Tomas's conflicted copy 2026-03-14)",
        "ilse.sync-conflict-20260314-101500-ABCDEFG",
        "ilse (Case Conflict 1)",
    ] {
        assert!(parse(&format!("builds/{stem}.md"), "").record.conflict_copy, "{stem}");
    }
    for stem in ["ilse", "a conflict with the neighbour", "copy of ilse", "ilse (2)"] {
        assert!(!parse(&format!("builds/{stem}.md"), "").record.conflict_copy, "{stem}");
    }
}

#[test]
fn an_items_span_begins_at_its_dash() {
    for (indent, gap) in [("", " "), ("  ", " "), ("    ", "   "), ("  ", "\n      ")] {
        let lines = format!("bench:\n{indent}-{gap}feel: good\n{indent}-{gap}feel: better");
        let text = crate::build_text(&lines);
        let parsed = clean("builds/ilse.md", &text);
        let bench = &parsed.record.build().expect("it is a build").bench;
        let items: Vec<&str> = bench.iter().map(|item| &text[item.span.clone()]).collect();
        assert_eq!(items, [format!("-{gap}feel: good"), format!("-{gap}feel: better")]);
    }
}
