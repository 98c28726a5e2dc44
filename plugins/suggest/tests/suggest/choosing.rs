//! Which blank for a brief, and which rods a blank could be.

use taperbook_bench::{Cuts, piece};
use taperbook_plugin::{ChooseAdvice, ReachAdvice, View};
use taperbook_record::Measure;
use taperbook_units::Length;

use crate::shop::Shop;

/// A blank of which all is stated, with diameters and length a part larger than those of a plain one.
fn card(thicker: f64, longer: f64, more: &str) -> String {
    let stations: String =
        [(0.0, 11.2, 1.0), (28.0, 8.4, 0.95), (56.0, 5.0, 0.8), (84.0, 1.8, 0.5)]
            .map(|(at, od, wall)| {
                format!(
                    "  - {{ at: {:.2} in, od: {:.2} mm, wall: {wall} mm }}\n",
                    at * longer,
                    od * thicker
                )
            })
            .concat();
    format!(
        "---\nkind: blank\nlength: {:.2} in\nmaterial: carbon\nheld_at: 9 in\ncalipers:\n{stations}modulus: 95 GPa\n\
         density: 1550 kg/m3\n{more}---\n",
        84.0 * longer
    )
}

/// A shop with a plain blank, a stouter one, a thinner one and a long one, under these names.
fn shop(names: [&str; 4]) -> Shop {
    let mut shop = Shop::default();
    shop.put("shop.yaml", "name: a shop\nerrors: { stated_length: 1 mm }\n");
    let [plain, stouter, thinner, long] = names;
    shop.put(&format!("blanks/{plain}.md"), &card(1.0, 1.0, ""));
    shop.put(&format!("blanks/{stouter}.md"), &card(1.12, 1.0, ""));
    shop.put(&format!("blanks/{thinner}.md"), &card(0.9, 1.0, ""));
    shop.put(&format!("blanks/{long}.md"), &card(1.05, 1.2, ""));
    shop
}

const NAMES: [&str; 4] = ["plain", "stouter", "thinner", "long"];

fn order(advice: &ChooseAdvice) -> Vec<&str> {
    advice.blanks.iter().map(|blank| blank.record.trim_start_matches("blanks/")).collect()
}

/// What the uncut plain blank holds, g.
fn plain_power() -> f64 {
    let reach = shop(NAMES).reach("blanks/plain", "", "");
    reach.present.power_g.value().expect("all is stated")
}

#[test]
fn a_brief_that_is_an_uncut_blanks_own_numbers_takes_that_blank_as_it_is() {
    let power = plain_power();
    let aim = format!("length: 84 in, power: {power:.1} g");
    let limits =
        format!("length: 82 in .. 86 in, power: {:.0} g .. {:.0} g", 0.6 * power, 1.6 * power);
    for limits in ["", &limits] {
        let advice = shop(NAMES).choose(&aim, limits, "");
        assert_eq!(order(&advice)[0], "plain", "{advice:?}");
        let best = &advice.blanks[0];
        assert_eq!((best.cut.tip_mm, best.cut.butt_mm), (0.0, 0.0), "{best:?}");
        assert!(best.meets && best.off_aim < 0.01 && best.in_the_way.is_none(), "{best:?}");
    }
}

#[test]
fn what_a_file_is_called_and_when_it_was_read_changes_nothing_but_its_name() {
    let aim = format!("length: 80 in, power: {:.0} g", 1.1 * plain_power());
    let told = |names: [&str; 4]| {
        let advice = shop(names).choose(&aim, "length: 78 in .. 82 in", "");
        let known_as = |record: &str| {
            names.iter().position(|name| record == format!("blanks/{name}")).expect("a blank")
        };
        let blanks = advice.blanks.iter();
        blanks
            .map(|blank| (known_as(&blank.record), blank.cut, blank.expected.clone()))
            .collect::<Vec<_>>()
    };
    assert_eq!(told(NAMES), told(["z", "y", "x", "w"]));
    assert_eq!(told(NAMES), told(["b", "d", "a", "c"]));
    assert_eq!(told(NAMES), told(NAMES));
}

#[test]
fn the_numbers_are_those_of_the_piece_after_these_cuts() {
    let shop = shop(NAMES);
    let aim = format!("length: 80 in, power: {:.0} g", 1.1 * plain_power());
    for blank in shop.choose(&aim, "tip_od: .. 2.3 mm", "").blanks {
        let piece = piece(&View::new(&shop.0), &blank.record).expect("a card");
        let off = Cuts {
            tip: Length::from_mm(blank.cut.tip_mm),
            butt: Length::from_mm(blank.cut.butt_mm),
        };
        assert_eq!(blank.expected, piece.state(off, Some(Length::from_inches(9.0))), "{blank:?}");
    }
}

/// No cut on a grid of a quarter inch, each worked out by itself, comes nearer to the aims than the cuts that are told.
#[test]
fn no_cut_of_a_plain_grid_comes_nearer_to_the_aims() {
    let shop = shop(NAMES);
    let view = View::new(&shop.0);
    let held_at = Length::from_inches(9.0);
    for (part, length_in) in [(1.1, 80.0), (1.4, 76.0), (0.97, 75.0), (1.25, 82.0)] {
        let power_g = part * plain_power();
        let advice = shop.choose(&format!("length: {length_in} in, power: {power_g:.2} g"), "", "");
        for blank in advice.blanks {
            let piece = piece(&view, &blank.record).expect("a card");
            // The usual tolerances of aims without limits: 5 mm and 2 %.
            let off = |tip: f64, butt: f64| {
                let cuts = Cuts { tip: Length::from_inches(tip), butt: Length::from_inches(butt) };
                let value = |measure| piece.value(measure, cuts, held_at);
                let length = (value(Measure::Length)? - length_in * 0.0254) / 0.005;
                let power = (value(Measure::Power)? * 1e3 / power_g - 1.0) / 0.02;
                Some(length.hypot(power))
            };
            let quarters = || (0..100).map(|n| 0.25 * f64::from(n));
            let nearest = quarters()
                .flat_map(|tip| quarters().filter_map(move |butt| off(tip, butt)))
                .fold(f64::INFINITY, f64::min);
            // What an end is worth to be left alone is a tenth of a tolerance, and so is half a mark.
            assert!(
                blank.off_aim < nearest + 0.25,
                "{} {}: {nearest}",
                blank.record,
                blank.off_aim
            );
        }
    }
}

#[test]
fn an_impossible_brief_says_so_with_the_nearest_and_what_stands_in_the_way() {
    let limits = format!("length: 83 in .. 84 in, power: {:.0} g ..", 5.0 * plain_power());
    let advice = shop(NAMES).choose("", &limits, "");
    assert_eq!(advice.can_meet, 0);
    let why = advice.why_none.expect("none can");
    assert!(why.contains("the nearest is blanks/") && why.contains("power comes to"), "{why}");
    assert!(advice.blanks.iter().all(|blank| !blank.meets && blank.in_the_way.is_some()));
    assert!(advice.blanks.iter().all(|blank| blank.chance_inside_limits < Some(0.05)));

    let too_long = shop(NAMES).choose("", "length: 110 in ..", "");
    assert_eq!(order(&too_long)[0], "long", "the longest is the nearest");
    assert!(too_long.why_none.is_some_and(|why| why.contains("length comes to")));
    let outside = shop(NAMES).refused("power: 300 g", "power: .. 260 g");
    assert!(outside.contains("is outside what is allowed"), "{outside}");
    assert!(shop(NAMES).refused("", "").contains("--aim"));
    assert!(Shop::default().refused("power: 300 g", "").contains("new blank"));
}

#[test]
fn no_cut_goes_into_a_joint_or_a_solid_tip() {
    let mut shop = Shop::default();
    shop.put("shop.yaml", "name: a shop\n");
    shop.put("blanks/jointed.md", &card(1.0, 1.0, "joints:\n  - { at: 60 in, overlap: 3 in }\n"));
    shop.put("blanks/solid.md", &card(1.0, 1.0, "tip: solid\n"));
    let advice = shop.choose(&format!("power: {:.0} g", 8.0 * plain_power()), "", "");
    for blank in &advice.blanks {
        let way = blank.in_the_way.as_deref().unwrap_or_default();
        if blank.record == "blanks/solid" {
            assert_eq!(blank.cut.tip_mm, 0.0, "{blank:?}");
            assert!(way.contains("solid"), "{way}");
        } else {
            // Half the overlap and an inch stay between the cut and the middle of the joint.
            assert!(blank.cut.tip_mm <= (84.0 - 60.0 - 1.5 - 1.0) * 25.4 + 1e-6, "{blank:?}");
            assert!(way.contains("joint"), "{way}");
        }
    }
    let rows = shop.reach("blanks/jointed", "", "").rows;
    let tips = rows.iter().flat_map(|row| &row.points).map(|point| point.cut.tip_mm);
    assert!(tips.fold(0.0, f64::max) <= 21.5 * 25.4 + 1e-6);
}

#[test]
fn what_can_not_be_judged_is_listed_with_what_to_measure() {
    let mut shop = shop(NAMES);
    shop.put("blanks/bare.md", "---\nkind: blank\nlength: 84 in\n---\n");
    shop.put("blanks/loose.md", &card(1.0, 1.0, "").replace("held_at: 9 in\n", ""));
    shop.put("builds/x.md", "---\nkind: build\nblank: bare\n---\n");
    shop.put(
        "offcuts/end.md",
        "---\nkind: offcut\nfrom: x\nend: butt\nlength: 12 in\nheld_at: 9 in\ncalipers:\n  - { at: 0 in, od: 11 mm }\n  - { at: 12 in, od: 10 mm }\n---\n",
    );
    let advice = shop.choose("power: 200 g", "", "");
    let told: Vec<(&str, &str)> =
        advice.not_judged.iter().map(|one| (one.record.as_str(), one.measure.as_str())).collect();
    assert_eq!((advice.considered, told.len(), advice.blanks.len()), (7, 3, 4), "{told:?}");
    assert!(told[0].0 == "blanks/bare" && told[0].1.contains("diameter"), "{told:?}");
    assert!(told[1].0 == "blanks/loose" && told[1].1.contains("held_at"), "{told:?}");
    assert!(told[2].0 == "offcuts/end" && told[2].1.contains("too little"), "{told:?}");

    // A length alone needs neither; then every end of a blank long enough will do.
    let advice = shop.choose("length: 80 in", "length: 79 in .. 81 in", "");
    assert!(advice.not_judged.is_empty(), "{advice:?}");
    let bare = advice
        .blanks
        .iter()
        .find(|blank| blank.record == "blanks/bare")
        .expect("it is long enough");
    assert!(
        bare.meets && (bare.cut.tip_mm + bare.cut.butt_mm - 4.0 * 25.4).abs() < 1.6,
        "{bare:?}"
    );
}

#[test]
fn a_blank_that_was_liked_for_such_a_use_comes_first_among_equals() {
    let with = |build: &str| {
        let mut shop = Shop::default();
        shop.put("shop.yaml", "name: a shop\n");
        for name in ["a", "b"] {
            shop.put(&format!("blanks/{name}.md"), &card(1.0, 1.0, ""));
        }
        shop.put(
            "builds/ilse.md",
            &format!("---\nkind: build\nblank: b\npurpose: small spoons for sea trout\n{build}bench:\n  - cut: {{ tip: 2 in }}\n---\n"),
        );
        shop
    };
    let aim = format!("power: {:.0} g", 1.1 * plain_power());
    let first =
        |build: &str, words: &str| order(&with(build).choose(&aim, "", words))[0].to_owned();
    assert_eq!(first("rating: 5\n", ""), "a");
    assert_eq!(first("rating: 5\n", "Spoons"), "b");
    assert_eq!(first("rating: 1\n", "spoons"), "a");
    assert_eq!(first("rating: 5\n", "pike"), "a");
    let advice = with("rating: 5\nverdict: keep\n").choose(&aim, "", "spoons for sea trout");
    let alike = &advice.blanks[0].alike[0];
    assert_eq!(
        (alike.record.as_str(), alike.rating, alike.tip_cut_mm),
        ("builds/ilse", Some(5), 50.8)
    );
    assert_eq!(alike.used_for, ["spoons", "sea", "trout"]);
    assert!(advice.words[0].contains("spoons, sea and trout"), "{:?}", advice.words);
}

/// Readings that agree with the card add information and take none away, so the range of a piece to come narrows; only
/// readings that disagree may widen it, since how far pieces differ is learned from them too.
#[test]
fn past_builds_that_agree_narrow_the_range_of_a_blank_to_come() {
    let width = |n_builds: usize| {
        let mut shop = Shop::default();
        shop.put("shop.yaml", "name: a shop\n");
        // Nothing is stated of the material, so that the builds have something to teach.
        let stated = card(1.0, 1.0, "").replace("modulus: 95 GPa\ndensity: 1550 kg/m3\n", "");
        shop.put("blanks/plain.md", &stated);
        let power = shop.reach("blanks/plain", "", "").present.power_g.value().expect("a power");
        for n in 0..n_builds {
            shop.put(
                &format!("builds/b{n}.md"),
                &format!("---\nkind: build\nblank: plain\nbench:\n  - read: {{ length: 84 in, power: {power:.1} g }}\n---\n"),
            );
        }
        let blank = &shop.choose("length: 84 in", "power: 50 g ..", "").blanks[0];
        assert_eq!(blank.n_past, n_builds);
        let (value, low, high) =
            blank.expected.get(Measure::Power).expect("a power").known().expect("it is known");
        (high - low) / value
    };
    let widths = [0, 1, 4].map(width);
    assert!(widths[1] < widths[0] && widths[2] < widths[1], "{widths:?}");
}

#[test]
fn the_reachable_set_goes_from_the_butt_to_the_tip_and_marks_what_is_inside() {
    let power = plain_power();
    let [least, most] = [power, 1.3 * power].map(f64::round);
    let limits = format!("length: 78 in .. 82 in, power: {least} g .. {most} g");
    let ReachAdvice { rows, present, has_limits, .. } =
        shop(NAMES).reach("blanks/plain", "", &limits);
    assert!(has_limits && 4 < rows.len());
    assert!((present.power_g.value().unwrap() - power).abs() < 1e-9);
    let allowed = least..=most;
    let mut n_inside = 0;
    for row in &rows {
        assert!((78.0 * 25.4 - 1e-6..=82.0 * 25.4 + 1e-6).contains(&row.length_mm), "{row:?}");
        let powers: Vec<f64> =
            row.points.iter().map(|point| point.power_g.value().unwrap()).collect();
        assert!(powers.windows(2).all(|pair| pair[0] < pair[1]), "a tip cut stiffens: {powers:?}");
        for point in &row.points {
            let length = 84.0 * 25.4 - point.cut.tip_mm - point.cut.butt_mm;
            assert!((length - row.length_mm).abs() < 1e-6, "{point:?}");
            assert_eq!(
                point.inside,
                allowed.contains(&point.power_g.value().unwrap()),
                "{point:?}"
            );
            n_inside += usize::from(point.inside);
        }
    }
    assert!(rows.windows(2).all(|pair| pair[1].length_mm < pair[0].length_mm));
    assert!(0 < n_inside && n_inside < rows.iter().map(|row| row.points.len()).sum());
    let open = shop(NAMES).reach("blanks/plain", "", "");
    assert_eq!(open.rows[0].points.len(), 1, "as it is");
    assert!(open.rows.iter().all(|row| row.points.iter().all(|point| !point.inside)));
}
