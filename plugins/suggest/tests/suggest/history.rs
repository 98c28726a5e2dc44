//! What past builds of a model say of the next one: their evidence, what the shop has learned, and where they are against it.

use taperbook_plugin::{PastForecast, SuggestAdvice};
use taperbook_record::Measure;

use crate::shop::Shop;

/// A blank of which nothing is stated but its size.
const CARD: &str = "---
kind: blank
length: 84 in
material: carbon
held_at: 9 in
calipers:
  - { at: 0 in, od: 11.2 mm, wall: 1.0 mm }
  - { at: 28 in, od: 8.4 mm }
  - { at: 56 in, od: 5 mm }
  - { at: 84 in, od: 1.8 mm }
---
";

/// What the uncut pieces hold, g, one a month from January 2024 on; a piece is cut an inch at the tip after it was read.
fn shop(powers: &[f64]) -> Shop {
    let mut shop = Shop::default();
    shop.put("shop.yaml", "name: a shop\n");
    shop.put("blanks/heron.md", CARD);
    for (idx, power) in powers.iter().enumerate() {
        let date = format!("{}-{:02}-10", 2024 + idx / 12, 1 + idx % 12);
        shop.put(
            &format!("builds/past-{idx:02}.md"),
            &format!(
                "---\nkind: build\nblank: heron\ndate: {date}\naim: {{ length: 82 in }}\nbench:\n  - read: {{ length: 84 in, power: \
                 {power} g }}\n  - cut: {{ tip: 1 in }}\n  - feel: wakes up\nrating: 4\nverdict: keep\n---\n"
            ),
        );
    }
    shop
}

/// Puts the piece in hand on the bench and asks what to cut.
#[track_caller]
fn suggested(shop: &mut Shop, readings: &str) -> SuggestAdvice {
    shop.put(
        "builds/ilse.md",
        &format!(
            "---\nkind: build\nblank: heron\ndate: 2026-03-14\nlimits: {{ length: 76 in .. 84 in, power: 100 g .. 400 g }}\naim: {{ \
             length: 80 in }}\nbench:\n{readings}---\n"
        ),
    );
    shop.suggest("builds/ilse")
}

fn said(advice: &SuggestAdvice, part: &str) -> bool {
    advice.words.iter().any(|words| words.contains(part))
}

#[test]
fn a_suggestion_names_its_past_builds_what_was_done_last_and_what_was_written_of_it() {
    let mut shop = shop(&[200.0, 203.0, 198.0, 202.0]);
    let advice = suggested(&mut shop, "  - read: { length: 84 in, power: 201 g }\n");
    assert!(advice.next_cut.is_some(), "{advice:?}");
    assert_eq!(advice.evidence.len(), 4);
    assert!((advice.evidence.iter().map(|build| build.weight).sum::<f64>() - 1.0).abs() < 1e-9);
    let query = advice.evidence_query.as_deref().expect("there are past builds");
    for build in &advice.evidence {
        assert!(query.contains(&format!("record:{}", build.record)), "{query}");
        assert_eq!((build.rating, build.words.as_deref()), (Some(4), Some("wakes up")));
        assert!(build.miss_pct.is_some_and(|miss| miss.abs() < 10.0), "{build:?}");
    }
    assert!(
        said(&advice, "last time, builds/past-03 of 2024-04-10: 1 in off the tip in 1 cut"),
        "{advice:?}"
    );
    assert!(said(&advice, "rated 4 of 5; you wrote “wakes up”"), "{advice:?}");
}

#[test]
fn without_a_past_build_nothing_is_said_of_any() {
    let advice = suggested(&mut shop(&[]), "  - read: { length: 84 in, power: 201 g }\n");
    assert!(advice.evidence.is_empty() && advice.evidence_query.is_none(), "{advice:?}");
    assert!(!said(&advice, "last time"));
}

/// The piece in hand is a quarter softer than its model, by readings that agree with each other: none of them is a slip.
#[test]
fn where_the_piece_and_the_past_builds_disagree_it_is_said_and_what_would_settle_it() {
    let mut shop = shop(&[200.0, 203.0, 198.0, 202.0, 199.0, 201.0]);
    let readings = |powers: &[f64]| -> String {
        let more = powers.iter().map(|power| format!("  - read: {{ power: {power} g }}\n"));
        format!("  - read: {{ length: 84 in }}\n{}", more.collect::<String>())
    };
    // A third reading costs a minute.
    let twice = suggested(&mut shop, &readings(&[150.0, 151.0]));
    let ask = twice.measure_next.unwrap_or_default();
    assert!(
        twice.next_cut.is_none()
            && ask.contains("once more")
            && ask.contains("it is softer than its model"),
        "{ask}"
    );
    // Then it is believed.
    let three = readings(&[150.0, 151.0, 150.0]);
    let apart = suggested(&mut shop, &three);
    let now = apart.expected.value(Measure::Power).unwrap();
    assert!(apart.next_cut.is_some() && now < 0.205, "{now}: {apart:?}");
    assert!(
        said(&apart, "by its own readings it holds") && said(&apart, "by 6 past builds of heron"),
        "{apart:?}"
    );
    assert!(
        said(&apart, "read the weight of the bare blank: a thinner wall is lighter"),
        "{apart:?}"
    );
    let weighed = format!("{three}  - read: {{ weight: 46 g }}\n");
    assert!(!said(&suggested(&mut shop, &weighed), "read the weight"));
    assert!(!said(&suggested(&mut shop, &readings(&[203.0, 202.0, 204.0])), "by its own readings"));
}

/// What was expected of a piece is worked out from those before it alone: what came later changes nothing.
#[test]
fn forecasts_of_the_past_know_nothing_of_what_came_later() {
    let early = [200.0, 206.0, 195.0, 203.0];
    let later = [early.to_vec(), vec![251.0, 247.0, 255.0, 249.0]].concat();
    let of_early: Vec<PastForecast> = shop(&early).explain_model("blanks/heron");
    let of_all = shop(&later).explain_model("blanks/heron");
    assert_eq!(of_early.len(), 4);
    assert_eq!(of_all[..4], of_early[..]);
    let n_before: Vec<usize> = of_all.iter().map(|one| one.n_before).collect();
    assert_eq!(n_before, [0, 1, 2, 3, 4, 5, 6, 7]);
    // The second of the stiffer ones is expected to be stiffer than the first was.
    let expected = |idx: usize| of_all[idx].expected_g.value().unwrap();
    assert!(expected(4) + 3.0 < expected(5), "{of_all:?}");
    assert!(of_all.iter().all(|one| {
        (one.miss_pct - 100.0 * (one.read_g / one.expected_g.value().unwrap() - 1.0)).abs() < 1e-9
    }));
}

#[test]
fn the_page_of_a_model_tells_spread_batches_and_how_forecasts_did() {
    let mut powers = vec![200.0, 203.0, 198.0, 202.0, 199.0, 201.0, 204.0, 197.0];
    let plain = shop(&powers).explain("blanks/heron").join("\n");
    for part in [
        "8 pieces with readings",
        "pieces differ by",
        "no drift over the years",
        "inside the 90 % range",
    ] {
        assert!(plain.contains(part), "{part}:\n{plain}");
    }
    assert!(!plain.contains("another batch"), "{plain}");
    powers.extend([262.0, 258.0, 265.0, 260.0, 263.0, 259.0]);
    let changed = shop(&powers).explain("blanks/heron").join("\n");
    assert!(
        changed.contains("from builds/past-08 on its pieces are of another batch"),
        "{changed}"
    );
}

/// A batch that differs counts most for the next piece, and that is said with its suggestion.
#[test]
fn the_next_piece_is_expected_to_be_of_the_latest_batch() {
    let mut powers = vec![200.0, 203.0, 198.0, 202.0, 199.0, 201.0, 204.0, 197.0];
    powers.extend([262.0, 258.0, 265.0, 260.0, 263.0, 259.0]);
    let advice = suggested(&mut shop(&powers), "  - read: { length: 84 in, power: 261 g }\n");
    assert!(said(&advice, "from builds/past-08 on differ from those before"), "{advice:?}");
    let power = advice.expected.value(Measure::Power).unwrap();
    assert!((0.24..0.32).contains(&power), "{power}");
}
