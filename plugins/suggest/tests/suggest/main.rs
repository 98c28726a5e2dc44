//! Suggestions on records as a builder writes them, and whole jobs on the simulated bench.

/// The plugin as the adviser of a simulated shop.
mod adviser;
/// Which blank for a brief, and which rods a blank could be.
mod choosing;
/// What past builds say of the next one.
mod history;
/// What is on the rack, and what the brief leaves open.
mod rack;
/// One question at a time.
mod scenes;
/// A shelf of texts and the plugin's answers.
mod shop;
/// Readings and cards that can't be trusted.
mod trusting;

use adviser::InProcess;
use shop::Shop;
use taperbook_plugin::SuggestAdvice;
use taperbook_record::Measure;
use taperbook_testkit::shop::{Limits, Log, Reads, Setting, job};

/// A blank of which all is stated but what its readings say.
const CARD: &str = "---
kind: blank
length: 84 in
material: carbon
held_at: 9 in
calipers:
  - { at: 0 in, od: 11.2 mm, wall: 1.0 mm }
  - { at: 28 in, od: 8.4 mm, wall: 0.95 mm }
  - { at: 56 in, od: 5 mm, wall: 0.8 mm }
  - { at: 84 in, od: 1.8 mm, wall: 0.5 mm }
modulus: 95 GPa
density: 1550 kg/m3
---
";

/// A shop that has put a level on its board and a weight on its clamp, and clamps with care.
const KNOWN_CLAMP: &str = "name: a shop
boards: { long wall: { clamp: oak jaws, tilt: 0 deg } }
clamps: { oak jaws: { gives: 0.1 deg } }
errors: { reclamp: 0.5 % }
";

fn build(more: &str, items: &str) -> String {
    let items: String = items.lines().map(|item| format!("  - {}\n", item.trim())).collect();
    format!("---\nkind: build\nblank: heron\n{more}\nbench:\n{items}---\n")
}

/// What is suggested for a build of [`CARD`] in a shop that knows its clamp.
#[track_caller]
fn suggested(more: &str, items: &str) -> SuggestAdvice {
    let mut shop = Shop::default();
    shop.put("shop.yaml", KNOWN_CLAMP);
    shop.put("blanks/heron.md", CARD);
    shop.put("builds/ilse.md", &build(more, items));
    shop.suggest("builds/ilse")
}

/// The power that the card leads to expect of the uncut blank, g.
fn power_of_card() -> f64 {
    let now = suggested("limits: { length: 60 in .. 84 in }", "read: { length: 84 in }").expected;
    now.value(Measure::Power).expect("it bends") * 1e3
}

#[track_caller]
fn stops(advice: &SuggestAdvice, part: &str) {
    assert_eq!(advice.next_cut, None, "{advice:?}");
    let why = advice.why_stop.as_deref().unwrap_or_default();
    assert!(why.contains(part), "{why:?}: {advice:?}");
}

#[test]
fn a_length_that_is_surely_too_long_is_cut_and_never_past_the_limit() {
    let advice = suggested(
        "limits: { length: 78 in .. 82 in }\naim: { length: 80 in }",
        &format!("read: {{ length: 84 in, power: {:.0} g }}", power_of_card()),
    );
    let cut = advice.next_cut.expect("four inches are too long");
    let off = cut.tip_mm + cut.butt_mm;
    assert!(25.4 < off && off <= 4.0 * 25.4, "{cut:?}");
    assert!(advice.expected.value(Measure::Length).unwrap() >= 80.0 * 0.0254 - 1e-3);
    assert!(advice.left.tip_mm.unwrap() >= off - 1e-6);
}

#[test]
fn what_is_done_is_left_alone_and_says_why() {
    let brief = "limits: { length: 78 in .. 84 in }\naim: { length: 82 in }";
    let read = format!("read: {{ length: 84 in, power: {:.0} g }}", power_of_card());
    stops(&suggested(&format!("{brief}\nverdict: keep"), &read), "verdict");
    stops(&suggested("purpose: pike", &read), "write");
    let settled = format!("{read}\nsettled: {{ tip: right as it is, butt: so is this }}");
    stops(&suggested(brief, &settled), "settled");
    let reached = "limits: { length: 78 in .. 84 in }\naim: { length: 84 in }";
    stops(&suggested(reached, &read), "aim is reached");
}

#[test]
fn a_settled_end_is_not_cut() {
    let brief = "limits: { length: 76 in .. 84 in }\naim: { length: 80 in }";
    let read = format!("read: {{ length: 84 in, power: {:.0} g }}", power_of_card());
    let tip = suggested(brief, &format!("{read}\nsettled: {{ butt: it fits the seat }}"));
    let butt = suggested(brief, &format!("{read}\nsettled: {{ tip: right for the spoons }}"));
    assert_eq!(tip.remaining.butt_mm, 0.0, "{tip:?}");
    assert_eq!(butt.remaining.tip_mm, 0.0, "{butt:?}");
    assert!(0.0 < tip.remaining.tip_mm && 0.0 < butt.remaining.butt_mm);
}

#[test]
fn a_length_below_the_shortest_is_past_mending() {
    let advice = suggested(
        "limits: { length: 80 in .. 84 in }\naim: { length: 82 in }",
        "read: { length: 84 in }\ncut: { butt: 6 in }\nread: { length: 78 in }",
    );
    stops(&advice, "no cut brings it");
}

#[test]
fn a_reading_that_contradicts_all_else_is_asked_for_again_before_the_saw() {
    let expected = power_of_card();
    let brief = format!(
        "limits: {{ length: 74 in .. 84 in, power: {:.0} g .. {:.0} g }}\naim: {{ power: {:.0} g }}",
        expected,
        1.4 * expected,
        1.2 * expected
    );
    let advice =
        suggested(&brief, &format!("read: {{ length: 84 in, power: {:.0} g }}", 0.5 * expected));
    assert_eq!((advice.next_cut, advice.why_stop), (None, None));
    assert!(
        advice.measure_next.as_deref().is_some_and(|what| what.starts_with("power")),
        "{:?}",
        advice.measure_next
    );
}

#[test]
fn without_diameters_the_next_thing_is_to_measure_them() {
    let mut shop = Shop::default();
    shop.put("blanks/heron.md", "---\nkind: blank\nlength: 84 in\nheld_at: 9 in\n---\n");
    let brief = "limits: { power: 200 g .. 260 g }\naim: { power: 235 g }";
    shop.put("builds/ilse.md", &build(brief, "read: { length: 84 in, power: 212 g }"));
    let advice = shop.suggest("builds/ilse");
    assert_eq!((advice.next_cut, advice.why_stop), (None, None));
    assert!(
        advice.measure_next.as_deref().is_some_and(|what| what.contains("diameter")),
        "{:?}",
        advice.measure_next
    );
}

#[test]
fn past_builds_narrow_the_range_and_their_parts_add_up_to_one() {
    let power = power_of_card();
    let loose = CARD.replace("modulus: 95 GPa\n", "");
    let range = |n_past: usize| {
        let mut shop = Shop::default();
        shop.put("blanks/heron.md", &loose);
        for n in 0..n_past {
            let items =
                format!("read: {{ length: 84 in, power: {:.0} g }}\nfeel: right", power + n as f64);
            shop.put(&format!("builds/past-{n}.md"), &build("rating: 4\nverdict: keep", &items));
        }
        let brief = "limits: { length: 78 in .. 84 in }\naim: { length: 80 in }";
        shop.put("builds/ilse.md", &build(brief, "read: { length: 84 in }"));
        let advice = shop.suggest("builds/ilse");
        let (value, low, high) = advice.expected.get(Measure::Power).unwrap().known().unwrap();
        ((high - low) / value, advice.evidence)
    };
    let (alone, nothing) = range(0);
    let (with_past, evidence) = range(8);
    assert!(nothing.is_empty());
    assert!(with_past < 0.5 * alone, "{with_past} after {alone}");
    let sum: f64 = evidence.iter().map(|past| past.weight).sum();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    assert!(evidence.iter().all(|past| past.miss_pct.is_some() && past.rating == Some(4)));
}

#[test]
fn where_numbers_come_from_is_said() {
    let mut shop = Shop::default();
    shop.put("shop.yaml", KNOWN_CLAMP);
    shop.put("blanks/heron.md", CARD);
    let items = format!("read: {{ length: 84 in, power: {:.0} g }}", power_of_card());
    shop.put("builds/ilse.md", &build("limits: { length: 78 in .. 84 in }", &items));
    assert!(shop.explain("builds/ilse").iter().any(|line| line.contains("power")));
    assert!(!shop.explain("blanks/heron").is_empty());
    // A card that states half of the modulus that its pieces have.
    shop.put("blanks/soft.md", &CARD.replace("95 GPa", "48 GPa"));
    for piece in ["a", "b", "c"] {
        let text = build("", &items).replace("blank: heron", "blank: soft");
        shop.put(&format!("builds/{piece}.md"), &text);
    }
    let doubted = |line: &String| line.contains("the stated modulus is the first to doubt");
    assert!(shop.explain("blanks/soft").iter().any(doubted), "{:?}", shop.explain("blanks/soft"));
    assert!(!shop.explain("blanks/heron").iter().any(doubted));
    let (parts, words) = shop.explain_number("builds/ilse", Measure::Power);
    let best = &parts.readings[0];
    assert!(best.reading.starts_with("item ") && best.reading.contains("power"), "{parts:?}");
    assert!(0.2 < best.narrows, "{parts:?}");
    let shares: f64 = parts.unsure.iter().map(|part| part.share).sum();
    assert!((shares - 1.0).abs() < 1e-9, "{parts:?}");
    let (value, low, high) = parts.number.known().unwrap();
    let (_, low_then, high_then) = parts.would_narrow[0].left.known().unwrap();
    assert!(low < low_then && low_then < value && value < high_then && high_then < high);
    assert!(words.iter().any(|line| line.starts_with("would narrow it by")), "{words:?}");
}

#[test]
fn whole_jobs_on_the_simulated_bench_end_and_spoil_no_blank() {
    let setting =
        Setting { n_past: 3, reads: Reads::Asked, limits: Limits::WIDE, log: Log::Careful };
    const N_JOBS: u64 = 6;
    let jobs: Vec<_> =
        (0..N_JOBS).map(|seed| job(setting, seed, &mut InProcess::default())).collect();
    for (seed, job) in jobs.iter().enumerate() {
        assert!(!job.over_cut, "job {seed} is over-cut:\n{}", job.record);
        assert!(job.n_cuts <= 8, "job {seed} took {} cuts:\n{}", job.n_cuts, job.record);
    }
    // Some jobs may stop at the edge of a limit by their hidden truth; most must be well inside.
    let n_inside = jobs.iter().filter(|job| job.inside && job.ended).count();
    assert!(4 <= n_inside, "{n_inside} of {N_JOBS} ended inside");
}
