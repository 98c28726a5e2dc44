//! Where guides go and what they take from recovery; the closed forms of the places stand beside the rule, in the mechanics.

use taperbook_plugin::{Advice, Cut, GuideSide, GuidesAdvice, Question, View};
use taperbook_units::{Length, Mass};

use super::Texts;

const DRAWER: (&str, &str) = (
    "rings guide",
    "{ marked: 5 mm, ring: 5 mm, height: 6 mm, weight: 0.25 g, count: 4 }
     { marked: 8 mm, ring: 8 mm, height: 11 mm, weight: 0.5 g }
     { marked: 20 mm, ring: 20 mm, height: 27 mm, weight: 3 g }",
);

fn asked(side: GuideSide, tip: f64, count: Option<usize>) -> Question {
    Question::Guides {
        record: "blanks/stated".to_owned(),
        cut: Cut { tip_mm: 25.4 * tip, butt_mm: 0.0 },
        side,
        count,
        load: None,
        held_at: None,
    }
}

#[track_caller]
fn guides(shop: &Texts, question: &Question) -> GuidesAdvice {
    match crate::plugin().advise(question, &View::new(&shop.shelf)) {
        Some(Ok(Advice::Guides(advice))) => *advice,
        other => panic!("{other:?}"),
    }
}

#[test]
fn as_many_as_keep_the_angle_even_and_small() {
    let shop = Texts::stated(&[DRAWER]);
    let advice = guides(&shop, &asked(GuideSide::Below, 0.0, None));
    let places = &advice.test.places;
    let angles: Vec<f64> = places.iter().map(|place| place.angle_deg).collect();
    let largest = angles.iter().copied().fold(0.0, f64::max);
    assert!(largest <= crate::guides::MOST_ANGLE_DEG + 0.01, "{angles:?}");
    assert!(angles.iter().all(|angle| (angle - largest).abs() < 0.05), "{angles:?}");
    // One guide less would not do: the blank turns by as much, over one way less.
    let n_ways = places.len() as f64;
    assert!(crate::guides::MOST_ANGLE_DEG < largest * n_ways / (n_ways - 1.0));
    // Half of all that it turns, which is the tip's angle less what it has at the clamp, nothing.
    assert!((largest * n_ways - advice.test.tip_angle_deg / 2.0).abs() < 0.1);
    // Ways add up from tip to clamp, held at 9 in of 80 in.
    let free: f64 = places.iter().map(|place| place.spacing_mm).sum();
    assert!((free - 71.0 * 25.4).abs() < 1e-6, "{free}");
    // The static test brings the tip a third of that down.
    let (_, drop) = advice.test.blank.last().copied().unwrap();
    assert!((drop + free / 3.0).abs() < 0.5, "{drop}");
}

#[test]
fn the_drawer_ends_where_its_count_does_and_larger_rings_stand_at_the_butt() {
    let shop = Texts::stated(&[DRAWER]);
    let advice = guides(&shop, &asked(GuideSide::Below, 0.0, Some(9)));
    let rings: Vec<f64> = advice.test.places[1..].iter().filter_map(|p| p.ring_mm).collect();
    assert_eq!(rings, [5.0, 5.0, 5.0, 5.0, 8.0, 8.0, 20.0, 20.0, 20.0]);
    // No tip-top is in the drawers: it weighs nothing, and that is said.
    let dressing = &advice.dressing;
    assert!((dressing.weight_g - (4.0 * 0.25 + 2.0 * 0.5 + 3.0 * 3.0)).abs() < 1e-9);
    assert_eq!(dressing.n_unweighed, 1);
}

#[test]
fn on_top_the_line_is_lifted_off_the_blank() {
    let low = ("rings guide", "{ marked: 4 mm, ring: 4 mm, height: 2.2 mm, weight: 0.2 g }");
    let few = guides(&Texts::stated(&[low]), &asked(GuideSide::Above, 0.0, Some(3)));
    assert!(few.test.places.iter().any(|place| place.clearance_mm < 0.0));
    assert!(few.words.iter().any(|words| words.contains("touches the blank")));
    // With higher ones in the drawer it is lifted, and without a number given there are more of them.
    let lifted = guides(&Texts::stated(&[DRAWER]), &asked(GuideSide::Above, 0.0, Some(6)));
    assert!(lifted.test.places.iter().all(|place| 0.0 < place.clearance_mm), "{lifted:?}");
    let more = guides(&Texts::stated(&[low]), &asked(GuideSide::Above, 0.0, None));
    assert!(few.test.places.len() < more.test.places.len());
    assert!(more.test.places.iter().all(|place| 0.0 < place.clearance_mm), "{more:?}");
}

/// By Rayleigh's quotient a small mass m where the mode swings v lowers the square of the frequency by m v² over the modal
/// mass; at the tip of a cone that is far more than the mass's share of the weight.
#[test]
fn guides_slow_the_blank_and_those_at_the_tip_most() {
    let at_tip = ("rings guide", "{ ring: 5 mm, height: 6 mm, weight: 1 g, count: 1 }");
    let bare = guides(&Texts::stated(&[]), &asked(GuideSide::Below, 0.0, Some(6)));
    assert_eq!(bare.dressing.loss, 0.0);
    assert!(bare.words.iter().any(|words| words.contains("no guide is in the drawers")));
    let one = guides(&Texts::stated(&[at_tip]), &asked(GuideSide::Below, 0.0, Some(1)));
    let (value, low, high) = one.dressing.dressed_hz.known().unwrap();
    assert!(low <= value && value <= high && 0.0 < one.dressing.loss);
    assert!(
        (value / one.dressing.bare_hz.value().unwrap() - (1.0 - one.dressing.loss)).abs() < 1e-9
    );
}

#[test]
fn the_uncut_blank_stands_beside_the_shortened_one() {
    let shop = Texts::stated(&[DRAWER]);
    assert_eq!(guides(&shop, &asked(GuideSide::Below, 0.0, None)).uncut, None);
    let cut = guides(&shop, &asked(GuideSide::Below, 2.0, None));
    let uncut = cut.uncut.expect("it was cut");
    assert_eq!(uncut.places.len(), cut.test.places.len());
    assert!((uncut.length_mm - 80.0 * 25.4).abs() < 1e-6 && uncut.load_g < cut.test.load_g);
    let mut heavier = asked(GuideSide::Below, 2.0, None);
    if let Question::Guides { load, .. } = &mut heavier {
        *load = Some(Mass::from_g(400.0));
    }
    assert!((guides(&shop, &heavier).test.load_g - 400.0).abs() < 1e-9);
}

#[test]
fn what_would_break_a_blank_is_said_and_what_is_no_rod_is_refused() {
    let shop = Texts::stated(&[DRAWER]);
    let mut question = asked(GuideSide::Below, 0.0, None);
    let warns = |question: &Question| {
        guides(&shop, question).words.iter().any(|words| words.contains("don't hang it"))
    };
    assert!(!warns(&question));
    if let Question::Guides { load, .. } = &mut question {
        *load = Some(Mass::from_kg(5.0));
    }
    assert!(warns(&question));
    if let Question::Guides { held_at, .. } = &mut question {
        *held_at = Some(Length::from_inches(75.0));
    }
    match crate::plugin().advise(&question, &View::new(&shop.shelf)) {
        Some(Err(told)) => assert!(told.contains("too little of it is free"), "{told}"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn no_guide_stands_on_a_joint() {
    let card = super::CARD.replace("pieces: 1\n", "").replace(
        "length: 80 in\n",
        "length: 80 in\npieces: 2\njoints: [{ at: 40 in, type: ferrule, overlap: 4 in }]\n",
    );
    let shop = Texts::stated(&[DRAWER]).with("blanks/two.md", &card);
    for count in 4..14 {
        let mut question = asked(GuideSide::Below, 0.0, Some(count));
        if let Question::Guides { record, .. } = &mut question {
            *record = "blanks/two".to_owned();
        }
        for place in guides(&shop, &question).test.places {
            let at = Length::from_mm(place.from_butt_mm);
            assert!(
                1.99 * 25.4 < (at - Length::from_inches(40.0)).abs().mm(),
                "{count}: {place:?}"
            );
        }
    }
}
