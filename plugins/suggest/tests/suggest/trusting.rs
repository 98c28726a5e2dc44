//! Readings and cards that can't be trusted, and what is said of them.

use taperbook_plugin::View;
use taperbook_record::Measure;
use taperbook_units::{Length, Mass};

use crate::scenes::asks;
use crate::shop::Shop;
use crate::{CARD, KNOWN_CLAMP, build, power_of_card, suggested};

/// One slip is left out, and of a bench on which nothing goes together nothing is cut.
#[test]
fn a_bench_whose_readings_do_not_go_together_is_read_anew() {
    let brief = "limits: { length: 78 in .. 84 in, power: 230 g .. 330 g }\naim: { length: 80 in, power: 280 g }";
    let read = |powers: &[f64]| {
        let loose = CARD.replace("modulus: 95 GPa\n", "");
        let mut shop = Shop::default();
        shop.put("shop.yaml", KNOWN_CLAMP);
        shop.put("blanks/heron.md", &loose);
        let powers: Vec<String> =
            powers.iter().map(|power| format!("read: {{ power: {power} g }}")).collect();
        let items = format!("read: {{ length: 84 in }}\n{}", powers.join("\n"));
        shop.put("builds/ilse.md", &build(brief, &items));
        shop.suggest("builds/ilse")
    };
    let apart = read(&[250.0, 300.0, 200.0, 350.0, 280.0, 220.0]);
    asks(&apart, "don't go together");
    asks(&apart, "the power of 350 g in item 5");
    // Three slips are found beside four readings that agree.
    let found = read(&[250.0, 252.0, 249.0, 251.0, 120.0, 25.0, 400.0]);
    let asked = found.measure_next.as_deref().unwrap_or_default();
    assert!(!asked.contains("don't go together"), "{found:?}");
    let said = found.words.join("\n");
    for slip in
        ["power of 120 g in item 6", "power of 25.0 g in item 7", "power of 400 g in item 8"]
    {
        assert!(said.contains(slip), "{slip}: {found:?}");
    }
}

/// The points of one bend are told of together; a slip among them is counted, whichever it is.
#[test]
fn a_point_that_is_left_out_of_account_is_counted_where_its_bend_is_told_of() {
    let shop = |items: &str| {
        let mut shop = Shop::default();
        shop.put("shop.yaml", KNOWN_CLAMP);
        shop.put("blanks/heron.md", &CARD.replace("modulus: 95 GPa\n", ""));
        shop.put("builds/ilse.md", &build("purpose: spoons", items));
        shop
    };
    let weighed = format!("read: {{ length: 84 in, power: {:.0} g }}", power_of_card());
    let plain = shop(&weighed);
    let piece = taperbook_bench::piece(&View::new(&plain.0), "builds/ilse").expect("it is a build");
    let (held_at, load) = (Length::from_inches(9.0), Mass::from_g(120.0));
    let places = piece.bent(piece.walk.present().off, held_at, load, 6).expect("it bends");
    // Where all of them contradict the power and nothing tells which is wrong, neither counts, and the power is read again.
    let points = places.iter().skip(1);
    let points: Vec<String> = points
        .map(|place| format!("[{:.0} mm, {:.0} mm]", place.x.mm(), 1.4 * place.y.mm()))
        .collect();
    let board = points.join(", ");
    let mut apart =
        shop(&format!("{weighed}\nread: {{ board: [{{ load: 120 g, points: [{board}] }}] }}"));
    let (parts, _) = apart.explain_number("builds/ilse", Measure::Power);
    let told: Vec<&str> = parts.readings.iter().map(|part| part.reading.as_str()).collect();
    assert!(told.iter().all(|told| told.ends_with(", left out of account")), "{told:?}");
    let items = format!("{weighed}\nread: {{ board: [{{ load: 120 g, points: [{board}] }}] }}");
    apart.put(
        "builds/ilse.md",
        &build("limits: { length: 78 in .. 83 in, power: 230 g .. 330 g }", &items),
    );
    let advice = apart.suggest("builds/ilse");
    asks(&advice, "power, held at 9 in");
    let said = advice.words.join("\n");
    assert!(
        said.contains("in item 1 and what was bent under a weight in item 2 don't fit"),
        "{said}"
    );
    for slip in [1, 3] {
        let points = places.iter().enumerate().skip(1).map(|(idx, place)| {
            let y = place.y.mm() - if idx == slip { 120.0 } else { 0.0 };
            format!("[{:.0} mm, {y:.0} mm]", place.x.mm())
        });
        let board = points.collect::<Vec<_>>().join(", ");
        let items = format!("{weighed}\nread: {{ board: [{{ load: 120 g, points: [{board}] }}] }}");
        let (parts, _) = shop(&items).explain_number("builds/ilse", Measure::Power);
        let told: Vec<&str> = parts.readings.iter().map(|part| part.reading.as_str()).collect();
        let expected = "item 2: 5 points on the board, 1 of them left out of account";
        assert!(told.contains(&expected), "{slip}: {told:?} {board}");
    }
}

/// A modulus on the card that its readings prove wrong counts as a guess, and the builder is told what to do about it.
#[test]
fn a_stated_modulus_that_the_readings_speak_against_is_named() {
    let advice = |modulus: &str| {
        let mut shop = Shop::default();
        shop.put("shop.yaml", KNOWN_CLAMP);
        shop.put("blanks/heron.md", &CARD.replace("95 GPa", modulus));
        let brief = "limits: { length: 78 in .. 84 in }\naim: { length: 80 in }";
        let read = format!("read: {{ length: 84 in, power: {:.0} g }}", power_of_card());
        shop.put("builds/ilse.md", &build(brief, &read));
        let mut words = shop.suggest("builds/ilse").words;
        words.extend(shop.explain("builds/ilse"));
        words.join("\n")
    };
    let said = "`modulus: 190 GPa` and `density: 1550 kg/m3` on the card of heron";
    assert_eq!(advice("190 GPa").matches(said).count(), 2, "{}", advice("190 GPa"));
    assert!(!advice("95 GPa").contains("on the card of heron"));
}

/// What can't be cut softer is not called reached, however little is left to do.
#[test]
fn an_aim_that_is_missed_is_not_said_to_be_reached() {
    let power = power_of_card();
    let stops_at = |aim: f64| {
        let brief = format!(
            "limits: {{ length: 82 in .. 84 in, power: {:.0} g .. {:.0} g }}\naim: {{ length: 83 in, power: {:.0} g }}",
            0.8 * power,
            1.3 * power,
            aim * power
        );
        let read = format!("read: {{ power: {:.0} g }}", 1.03 * power);
        let items = format!(
            "read: {{ length: 84 in, power: {power:.0} g }}\ncut: {{ tip: 1 in }}\nread: {{ length: 83 in }}\n{read}\n{read}\n{read}"
        );
        let advice = suggested(&brief, &items);
        advice.why_stop.clone().unwrap_or_else(|| panic!("{aim}: {advice:?}"))
    };
    assert!(stops_at(1.03).starts_with("the aim is reached"), "{}", stops_at(1.03));
    let missed = stops_at(0.9);
    assert!(missed.contains("no further cut comes nearer to the aim"), "{missed}");
}
